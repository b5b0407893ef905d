"""The package's broker, made to ask who somebody is before it touches anything.

As it comes, it drops or renames the session of a client id before it checks the password: any
stranger could cut a bench, or the server, off by naming its id. It also publishes a last will
without asking whether the topic is the client's own, and takes packets of 256 MB. Here

- the password is checked first, within a few seconds, and nobody waits for a packet for ever;
- a client id counts within its user only, so none can take another's session over;
- who reconnects is not declared dead by the old connection's last will afterwards;
- last wills, topics and lengths are checked.

The methods with an underscore are the package's own; hence the exact pin in pyproject.toml, and
the test that fails with another version.

amqtt 0.12.1: https://amqtt.readthedocs.io
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from typing import Any

from amqtt.adapters import StreamReaderAdapter, StreamWriterAdapter
from amqtt.broker import Broker
from amqtt.contexts import Action
from amqtt.errors import AMQTTError, NoDataError
from amqtt.mqtt.connack import NOT_AUTHORIZED, ConnackPacket
from amqtt.mqtt.protocol.broker_handler import BrokerProtocolHandler
from amqtt.session import Session

from drainscale.messages.codec import MAX_BYTES
from drainscale_server.broker.rights import may_hear, may_publish

TESTED_VERSION = "0.12.1"
LISTENER = "default"  # the name that the package insists on
CONNECT_S = 10.0  # a connection that has not said who it is by then is closed
MOST_BYTES_UNKNOWN = 4096  # of a packet, before the password was checked
MOST_BYTES = MAX_BYTES + 1024  # afterwards: our longest payload and its topic
MOST_CONNECTIONS = 500

log = logging.getLogger(__name__)


Knows = Callable[[str, str], Awaitable[bool]]
"""Checks a name and a password; may take its time."""


class BoundedReader(StreamReaderAdapter):  # type: ignore[misc]  # the package tells no types
    """Reads packets up to a length; a longer one ends the connection."""

    def __init__(self, reader: asyncio.StreamReader) -> None:
        super().__init__(reader)
        self.most_bytes = MOST_BYTES_UNKNOWN

    async def read(self, n: int = -1) -> bytes:
        """Read so many bytes.

        Raises:
            NoDataError: More than a packet may have.
        """
        if n > self.most_bytes:
            raise NoDataError(f"a packet of {n} bytes, at most {self.most_bytes}")
        return bytes(await super().read(n))


class GuardedBroker(Broker):  # type: ignore[misc]  # as above
    """The broker; made and run within one event loop, its connections handed to ``serve``.

    Args:
        knows: Who may come in.
    """

    def __init__(self, knows: Knows) -> None:
        listener = {"type": "external", "bind": "none"}
        super().__init__({"listeners": {LISTENER: listener}, "plugins": {}})
        self._knows = knows
        self._writers: set[asyncio.StreamWriter] = set()

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Serve one connection to its end; nothing that it sends can do more than end it."""
        if len(self._writers) >= MOST_CONNECTIONS:
            writer.close()
            return
        self._writers.add(writer)
        try:
            ours = BoundedReader(reader), StreamWriterAdapter(writer)
            await self.external_connected(*ours, LISTENER)
        except (TimeoutError, OSError, asyncio.IncompleteReadError) as error:
            log.info("broker: connection ended: %s", repr(error))
        except Exception:  # whatever bytes do to the package, the others go on
            log.warning("broker: a connection ended badly", exc_info=True)
        finally:
            self._writers.discard(writer)
            writer.close()

    async def shutdown(self) -> None:
        """End it; the connections first, else a client that talks on and on is waited for."""
        for writer in self._writers:
            writer.transport.abort()
        await super().shutdown()

    async def _initialize_client_session(
        self, reader: Any, writer: Any, remote_address: str, remote_port: int
    ) -> tuple[BrokerProtocolHandler, Session]:
        async with asyncio.timeout(CONNECT_S):
            handler, session = await BrokerProtocolHandler.init_from_connect(
                reader, writer, self.plugins_manager
            )
            is_welcome = await self._is_welcome(session)
        if not is_welcome:
            log.warning("broker: refused %s:%s", remote_address, remote_port)
            await ConnackPacket.build(0, NOT_AUTHORIZED).to_stream(writer)
            await writer.close()
            raise AMQTTError("refused")
        reader.most_bytes = MOST_BYTES
        session.client_id = f"{session.username}:{session.client_id}"
        session.clean_session = True  # no promise of ours rests on a session of the broker's
        session.parent = 0
        await self._replace(session.client_id)
        return handler, session

    async def _is_welcome(self, session: Session) -> bool:
        user, password = session.username, session.password
        if not user or not password:
            return False
        if session.will_flag and not may_publish(user, session.will_topic or ""):
            return False
        return await self._knows(user, password)

    async def _replace(self, client_id: str) -> None:
        """End an older connection of the same client, without its last will: the client lives."""
        old, handler = self._sessions.get(client_id, (None, None))
        if old is not None and handler is not None:
            old.will_flag = False
            await self._delete_session(client_id)
            await handler.handle_connection_closed()

    async def _authenticate(self, _session: Session, _: Any) -> bool:
        return True  # who got this far was asked already

    async def _topic_filtering(self, session: Session, topic: str, action: Action) -> bool:
        user = session.username or ""
        if action is Action.PUBLISH:
            return may_publish(user, topic)
        return may_hear(user, topic) if action is Action.SUBSCRIBE else True

    def users(self) -> set[str]:
        """Name the users that are connected."""
        return {session.username for session, _ in self._sessions.values() if session.username}

    async def cut(self, user: str) -> None:
        """End all connections of a user."""
        for session, handler in list(self._sessions.values()):
            if session.username == user:
                log.warning("broker: %s is cut off", user)
                await handler.handle_connection_closed()
