"""One thread between broker and store; it outlives whatever either of them does.

    intake = Intake(store, BrokerAccess(port=1883))
    intake.listeners.live.append(...)
    intake.start()
    intake.publish(topic, payload)      # from any thread
    intake.stop()

What came is stored, then confirmed to the broker, then acknowledged to the benches, then told to
the listeners. If the store refuses, nothing of that happens: the connection is given up, and what
came is sent again by the broker or by the benches.
"""

import logging
import threading
import time
from collections import Counter, deque
from collections.abc import Callable

from drainscale.errors import StoreError
from drainscale.mqtt_link import LinkDownError
from drainscale_server.ingest.connection import BrokerAccess, Connection, Delivery
from drainscale_server.ingest.keeping import Keeper, Kept
from drainscale_server.ingest.listeners import Listeners
from drainscale_server.ingest.rereading import reread
from drainscale_server.store.store import Store

CLIENT_ID = "drainscale-server"
TURN_S = 1.0  # the keep-alive has its turn at least so often
PAUSE_S = 0.5  # after a failure; doubled each time, up to
LONGEST_PAUSE_S = 15.0
WAITING_N = 1000  # messages to publish; more than that, and nothing gets through anyway
_log = logging.getLogger(__name__)


class Intake:
    """Takes in what the benches send.

    Args:
        store: Where it is kept.
        access: Where the broker is.
        wall_s: The server's clock, s since 1970 UTC.
        client_id: How the broker knows this server; a second one of the same id drops the first.
        pause_s: Before the second attempt to connect.

    Attributes:
        listeners: Whom to tell; add to its lists before ``start``.
        counters: How often things went wrong since the start, by name. What happened to messages
            is counted in the store.
    """

    def __init__(
        self,
        store: Store,
        access: BrokerAccess,
        wall_s: Callable[[], float] = time.time,
        client_id: str = CLIENT_ID,
        pause_s: float = PAUSE_S,
    ) -> None:
        self._store = store
        self._keeper = Keeper(store)
        self._access = access
        self._wall_s = wall_s
        self._client_id = client_id
        self._pause_s = pause_s
        self._lock = threading.Lock()
        self._waiting: deque[tuple[str, bytes, bool]] = deque()
        self._connection: Connection | None = None
        self._is_connected = False
        self._link_fault: str | None = "not connected yet"
        self._store_fault: str | None = None  # until a message could be stored again
        self._failures_n = 0  # in a row
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="intake", daemon=True)
        self.counters: Counter[str] = Counter()
        self.listeners = Listeners(self.counters)

    @property
    def is_alive(self) -> bool:
        """Whether the thread runs."""
        return self._thread.is_alive()

    @property
    def is_connected(self) -> bool:
        """Whether the broker is there and we are subscribed."""
        return self._is_connected

    @property
    def fault(self) -> str | None:
        """Why nothing is taken in at the moment; None if all is well."""
        return self._store_fault or self._link_fault

    def start(self) -> None:
        """Start the thread; a broker that is not there is no error."""
        self._thread.start()

    def stop(self, timeout_s: float = 10.0) -> None:
        """Finish the batch in hand, say good-bye and end the thread; harmless if it never ran."""
        self._stopping.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join(timeout_s)

    def publish(self, topic: str, payload: bytes, *, is_retained: bool = False) -> bool:
        """Send a message down at QoS 1, from any thread.

        Returns:
            False if there is no broker now: nothing is kept for later.
        """
        with self._lock:
            if not self._is_connected or len(self._waiting) >= WAITING_N:
                return False
            self._waiting.append((topic, payload, is_retained))
        self._wake()
        return True

    def _wake(self) -> None:
        connection = self._connection
        if connection is not None:
            connection.wake()

    def _run(self) -> None:
        self._reread()
        while not self._stopping.is_set():
            try:
                self._serve()
            except LinkDownError as error:
                if self._is_connected:
                    self._failures_n = 0
                self._link_fault = self._failed("broker-failures", f"no broker: {error}")
            except StoreError as error:
                self._store_fault = self._failed("store-failures", f"the store refuses: {error}")
            except Exception as error:  # noqa: BLE001 - the thread must outlive any bug; it is logged
                _log.exception("intake")
                self._link_fault = self._failed("intake-failures", f"a bug: {error!r}")
            self._is_connected = False
            self._stopping.wait(min(self._pause_s * 2.0**self._failures_n, LONGEST_PAUSE_S))

    def _reread(self) -> None:
        try:
            taken_n = reread(self._store)["reread"]
        except Exception:  # noqa: BLE001 - what is in quarantine can wait
            _log.exception("the quarantine can't be read again")
            self.counters["intake-failures"] += 1
        else:
            if taken_n:
                _log.info("%d messages were taken out of quarantine", taken_n)

    def _failed(self, counter: str, fault: str) -> str:
        _log.warning("intake: %s", fault)
        self.counters[counter] += 1
        self._failures_n = min(self._failures_n + 1, 10)
        return fault

    def _serve(self) -> None:
        """Hold one connection until it breaks or we are to stop."""
        connection = Connection(self._access, self._client_id, self._wall_s, self.counters)
        self._connection = connection
        try:
            while not self._stopping.is_set():
                deliveries = connection.turn(TURN_S)
                if connection.is_ready and not self._is_connected:
                    self._greet()
                if deliveries:
                    self._keep(connection, deliveries)
                self._send(connection)
            connection.close()
        except BaseException:
            connection.drop()
            raise
        finally:
            self._connection = None
            with self._lock:  # by the time it got through, it would be old
                self._waiting.clear()

    def _greet(self) -> None:
        self._is_connected = True
        self._link_fault = None
        self.counters["connects"] += 1
        self.listeners.tell_connected()

    def _keep(self, connection: Connection, deliveries: list[Delivery]) -> None:
        kept = self._keeper.keep([one.arrived for one in deliveries])
        self._failures_n = 0
        if kept.stored:  # a status in place of the last one needs no room
            self._store_fault = None
        try:
            connection.confirm(deliveries)
            for topic, payload in kept.telegrams():
                connection.publish(topic, payload)
        finally:  # it is stored, whatever the broker says: nobody is told of it a second time
            self._tell(kept)

    def _tell(self, kept: Kept) -> None:
        if kept.stored:
            self.listeners.tell_stored(kept.stored)
        for told, is_retained in kept.told:
            self.listeners.tell(told.message, told.bench_id, is_retained=is_retained)

    def _send(self, connection: Connection) -> None:
        while True:
            with self._lock:
                if not self._waiting:
                    return
                topic, payload, is_retained = self._waiting.popleft()
            connection.publish(topic, payload, is_retained=is_retained)
