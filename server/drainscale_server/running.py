"""The whole server: starts its parts in order, ends them in the reverse order.

    pages' port, store, broker | orders, intake, dropping | pages

Nothing is left behind by a kill: ports are free again at once, the store's lock goes with the
process, and what was acknowledged is on the disk.
"""

import logging
import signal
import ssl
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import FrameType

import uvicorn
from starlette.types import ASGIApp

from drainscale.errors import ServerError, ServerFileError
from drainscale.messages.records import Samples
from drainscale.messages.topics import BenchId
from drainscale_server.api.patience import PatientProtocol
from drainscale_server.api.shop import Shop
from drainscale_server.app import create_app
from drainscale_server.broker.credentials import Credentials
from drainscale_server.broker.embedded import EmbeddedBroker, listen, tls_context
from drainscale_server.broker.rights import SERVER
from drainscale_server.feed.hub import Feed
from drainscale_server.ingest.connection import BrokerAccess
from drainscale_server.ingest.intake import Intake
from drainscale_server.ingest.listeners import Stored
from drainscale_server.orders.commands import Commands
from drainscale_server.orders.next_job import NextJobs
from drainscale_server.record.dropping import Dropping
from drainscale_server.settings.safety import check_safe, needs_password
from drainscale_server.settings.server_file import ANY_FREE_PORT, BrokerPlace, Settings
from drainscale_server.store.store import Store

STORE_FILE = "store.sqlite"
GOODBYE_S = 3  # for requests under way
log = logging.getLogger(__name__)
Say = Callable[[str], None]


def data_folder(settings: Settings) -> Path:
    """Give the data folder; made, for its owner only, if it is not there.

    Raises:
        ServerError: It cannot be made.
    """
    folder = settings.folder
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise ServerError(f"{folder}: {(error.strerror or str(error)).lower()}") from error
    return folder


def run(settings: Settings, name: str, say: Say) -> None:
    """Run until SIGTERM or SIGINT.

    Args:
        settings: What it is told.
        name: Where that comes from, for messages.
        say: Takes the lines that tell where everything is.

    Raises:
        ServerFileError: Something unsafe is asked for, or a file of the settings is wrong.
        ServerError: A port or the data folder cannot be used.
        StoreError: The store cannot be used.
    """
    credentials = Credentials(data_folder(settings))
    check_safe(settings, name, has_web_password=credentials.has_web_password)
    if settings.tls is not None:
        tls_context(settings.tls)  # a wrong file is told before anything starts
    web = settings.web
    with ExitStack() as stack:
        pages = stack.enter_context(listen(web.host, web.port, "pages"))
        store = stack.enter_context(Store(settings.folder / STORE_FILE))
        access, broker_port = stack.enter_context(_broker(settings, credentials))
        intake = Intake(store, access)
        shop = make_shop(settings, credentials, store, intake)
        _join(intake, shop)
        stack.enter_context(_started(shop.next_jobs))
        stack.enter_context(_started(intake))
        stack.enter_context(Dropping(store, settings.data.keep_samples_days))
        for line in addresses(settings, pages.getsockname()[1], broker_port):
            say(line)
        PagesServer(create_app(shop), settings, shop.feed).run([pages])


def make_shop(settings: Settings, credentials: Credentials, store: Store, intake: Intake) -> Shop:
    """Put together what the routes work with."""

    def publish(topic: str, payload: bytes, is_retained: bool) -> bool:
        return intake.publish(topic, payload, is_retained=is_retained)

    def faults() -> tuple[str, ...]:
        fault = intake.fault
        return store.file_faults if fault is None else (*store.file_faults, fault)

    return Shop(
        settings=settings,
        store=store,
        feed=Feed(store, faults=faults, steady=time.monotonic),
        commands=Commands(publish),
        next_jobs=NextJobs(store, publish),
        credentials=credentials,
        intake_fault=lambda: intake.fault,
        needs_password=needs_password(settings),
        clock=time.time,
    )


def addresses(settings: Settings, port: int, broker_port: int) -> list[str]:
    """Say where everything is, a line each."""
    scheme = "http" if settings.tls is None else "https"
    host = f"[{settings.web.host}]" if ":" in settings.web.host else settings.web.host
    return [
        f"board {scheme}://{host}:{port}/",
        f"broker {settings.broker.host}:{broker_port} ({settings.broker.way})",
        f"data {settings.folder.resolve()}",
    ]


@contextmanager
def _broker(settings: Settings, credentials: Credentials) -> Iterator[tuple[BrokerAccess, int]]:
    """Start the embedded broker, or read how to reach the outside one; give its port as well."""
    place = settings.broker
    if not place.is_embedded:
        yield outside_access(place), place.port
        return
    broker = EmbeddedBroker(place, settings.tls, credentials)
    broker.start()
    try:
        access = BrokerAccess(port=broker.inner_port, user=SERVER, password=broker.password)
        yield access, broker.port
    finally:
        broker.stop()


def outside_access(place: BrokerPlace) -> BrokerAccess:
    """Read how to log in at an outside broker.

    Raises:
        ServerFileError: It has no port, or the file of password or certificates cannot be read.
    """
    if place.port == ANY_FREE_PORT:
        raise ServerFileError("an outside broker has a port of its own: say which")
    password: str | None = None
    if place.password_file is not None:
        try:
            password = Path(place.password_file).read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError) as error:
            reason = getattr(error, "strerror", None) or "not UTF-8 text"
            raise ServerFileError(f"{place.password_file}: {reason.lower()}") from error
    ca_file = None if place.ca_file is None else Path(place.ca_file)
    if ca_file is not None:
        try:
            ssl.create_default_context(cafile=str(ca_file))
        except OSError as error:  # an SSLError is one
            reason = error.strerror or str(error)
            raise ServerFileError(f"{ca_file}: {reason.lower()}") from error
    return BrokerAccess(place.host, place.port, place.username, password, ca_file)


@contextmanager
def _started(part: Intake | NextJobs) -> Iterator[None]:
    part.start()
    try:
        yield
    finally:
        part.stop()


def _join(intake: Intake, shop: Shop) -> None:
    """Let everybody hear of what comes in."""

    def on_stored(stored: list[Stored]) -> None:
        news = {BenchId(one.site, one.bench) for one in stored if not isinstance(one.body, Samples)}
        if news:
            shop.feed.on_news((bench.site, bench.bench) for bench in news)
            shop.next_jobs.look(news)

    intake.listeners.stored.append(on_stored)
    intake.listeners.live.append(shop.feed.on_live)
    intake.listeners.status.append(shop.feed.on_status)
    intake.listeners.answer.append(shop.commands.on_answer)
    intake.listeners.connected.append(shop.next_jobs.on_connected)


class PagesServer(uvicorn.Server):
    """Serves pages and JSON in this thread until a signal says that it is enough.

    The package raises the signal anew once it has ended, which would kill the process before the
    other parts have; here it is over then. Streams are ended first, for they never end themselves.
    """

    def __init__(self, app: ASGIApp, settings: Settings, feed: Feed) -> None:
        tls = settings.tls
        config = uvicorn.Config(
            app,
            http=PatientProtocol,
            ws="none",
            lifespan="on",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=GOODBYE_S,
            ssl_certfile=None if tls is None else tls.certificate_file,
            ssl_keyfile=None if tls is None else tls.key_file,
        )
        super().__init__(config)
        self._feed = feed

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take the signals that end a server."""
        numbers = (signal.SIGINT, signal.SIGTERM)
        before = {number: signal.signal(number, self.handle_exit) for number in numbers}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """End on a signal."""
        self._feed.close()
        super().handle_exit(sig, frame)
