"""The embedded broker: in a thread with an event loop of its own, so that pages never delay it."""

import asyncio
import logging
import secrets
import socket
import ssl
import threading
from contextlib import ExitStack, suppress

from drainscale.errors import ServerError
from drainscale_server.broker.amqtt_package import GuardedBroker
from drainscale_server.broker.credentials import Credentials
from drainscale_server.broker.passwords import new_password
from drainscale_server.broker.rights import SERVER
from drainscale_server.settings.server_file import BrokerPlace, Tls

INNER_HOST = "127.0.0.1"  # where the server itself connects
START_S = 10.0
STOP_S = 10.0
LOOK_S = 1.0  # how soon a revoked bench is cut off

log = logging.getLogger(__name__)


class EmbeddedBroker:
    """The shop's broker, from ``start`` to ``stop``.

    Args:
        place: Where to listen.
        tls: Certificate and key; None: in clear, on this machine only.
        credentials: Who may come in.

    Attributes:
        password: Of the user ``server``, made anew for this start and never written down.
        port: Where it listens, once started.
        inner_port: Where the server itself connects: at ``INNER_HOST``, without TLS.
    """

    def __init__(self, place: BrokerPlace, tls: Tls | None, credentials: Credentials) -> None:
        self._place = place
        self._tls = tls
        self._credentials = credentials
        self._ready = threading.Event()
        self._failure: BaseException | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stop: asyncio.Event | None = None
        self._known_s: dict[str, float | None] = {}
        self._thread = threading.Thread(target=self._run, name="broker", daemon=True)
        self.password = new_password()
        self.port = self.inner_port = place.port

    @property
    def is_alive(self) -> bool:
        """Whether it serves."""
        return self._thread.is_alive() and self._ready.is_set() and self._failure is None

    def start(self) -> None:
        """Start it, and wait until it listens.

        Raises:
            ServerError: The port is in use or not ours to take, or certificate or key unreadable.
        """
        self._thread.start()
        if not self._ready.wait(START_S):
            raise ServerError("the broker does not start")
        if self._failure is not None:
            self._thread.join(STOP_S)
            raise ServerError(str(self._failure)) from self._failure

    def stop(self) -> None:
        """End it and every connection; harmless if it never ran."""
        loop, stop = self._loop, self._stop
        if loop is not None and stop is not None:
            with suppress(RuntimeError):  # it ended by itself
                loop.call_soon_threadsafe(stop.set)
        if self._thread.is_alive():
            self._thread.join(STOP_S)

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except Exception as error:  # told by start(), or by the log
            self._failure = error
            if self._ready.is_set():
                log.exception("broker: ended")
        finally:
            self._ready.set()

    async def _serve(self) -> None:
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        context = None if self._tls is None else tls_context(self._tls)
        with ExitStack() as stack:
            taken = stack.enter_context(listen(self._place.host, self._place.port, "broker"))
            self.port = self.inner_port = taken.getsockname()[1]
            broker = GuardedBroker(self._knows)
            await broker.start()
            servers = [await asyncio.start_server(broker.serve, sock=taken, ssl=context)]
            if context is not None or taken.getsockname()[0] != INNER_HOST:
                inner = stack.enter_context(listen(INNER_HOST, 0, "broker"))
                self.inner_port = inner.getsockname()[1]
                servers.append(await asyncio.start_server(broker.serve, sock=inner))
            await self._until_stopped(broker, servers)

    async def _until_stopped(self, broker: GuardedBroker, servers: list[asyncio.Server]) -> None:
        assert self._stop is not None
        self._ready.set()
        try:
            while not self._stop.is_set():
                await self._cut_off(broker)
                with suppress(TimeoutError):
                    await asyncio.wait_for(self._stop.wait(), LOOK_S)
        finally:
            for server in servers:
                server.close()
            await broker.shutdown()

    async def _knows(self, user: str, password: str) -> bool:
        if user == SERVER:
            return secrets.compare_digest(password.encode(), self.password.encode())
        made_s = self._credentials.made_s(user)
        if not await asyncio.to_thread(self._credentials.is_bench, user, password):
            return False
        self._known_s[user] = made_s
        return True

    async def _cut_off(self, broker: GuardedBroker) -> None:
        for user in broker.users() - {SERVER}:
            if self._made_s(user) != self._known_s.get(user):
                await broker.cut(user)

    def _made_s(self, user: str) -> float | None:
        try:
            return self._credentials.made_s(user)
        except ServerError as error:  # somebody is at the file: nobody is cut off for that
            log.error("broker: %s", error)
            return self._known_s.get(user)


def listen(host: str, port: int, what: str) -> socket.socket:
    """Take a port, before anything else is started.

    Args:
        host: Name or address.
        port: 0: any free one.
        what: How the message calls it.

    Raises:
        ServerError: In use, not ours to take, or no such address.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    taken = socket.socket(family, socket.SOCK_STREAM)
    try:
        # so that a server that was killed a moment ago does not keep the next one out
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        taken.bind((host.strip("[]"), port))
        taken.listen(128)
        taken.setblocking(False)
    except OSError as error:
        taken.close()
        reason = (error.strerror or str(error)).lower()
        raise ServerError(f"{what}: {host}, port {port}: {reason}") from error
    return taken


def tls_context(tls: Tls) -> ssl.SSLContext:
    """Make what a listening socket needs for TLS 1.2 and newer.

    Raises:
        ServerError: Certificate or key cannot be read, or don't belong together.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(tls.certificate_file, tls.key_file)
    except (OSError, ssl.SSLError) as error:
        reason = error.strerror or str(error)
        raise ServerError(f"{tls.certificate_file}, {tls.key_file}: {reason}") from error
    return context
