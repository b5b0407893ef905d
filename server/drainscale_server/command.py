"""Run the shop's server: bay boards, service records, and the broker that the benches send to.

drainscale server [--config server.toml]
drainscale server --enrol north/bay-1
"""

import argparse
import logging
import os
import signal
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import NoReturn

from drainscale.errors import InputError, MessageError, ServerFileError
from drainscale.messages.topics import BenchId
from drainscale_server.broker.credentials import Credentials, user_of
from drainscale_server.running import data_folder, run
from drainscale_server.settings.server_file import Settings, read_settings

EVERYWHERE = ("0.0.0.0", "::")  # where to listen, but nowhere to connect to
QUIET = ("amqtt", "transitions", "uvicorn")  # packages that tell more than anybody needs


def main(argv: Sequence[str]) -> int:
    """Run ``drainscale server``; return the exit status."""
    options = _options(argv)
    settings = _settings(options)
    if options.enrol is not None:
        _enrol(settings, options.enrol, options.password_file)
    elif options.revoke is not None:
        _revoke(settings, options.revoke)
    elif options.new_password:
        _new_password(settings)
    else:
        _run(settings, options.config)
    return 0


def _options(argv: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="drainscale server",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--config", type=Path, help="the server file")
    parser.add_argument("--folder", help="where the data are kept")
    parser.add_argument("--host", help="where pages are served; this machine unless said otherwise")
    parser.add_argument("--port", type=int, help="port of the pages; 0: any free one")
    parser.add_argument("--broker-port", type=int, help="port of the broker; 0: any free one")
    task = parser.add_mutually_exclusive_group()
    task.add_argument("--enrol", metavar="SITE/BENCH", help="make a password for a bench")
    task.add_argument("--revoke", metavar="SITE/BENCH", help="take a bench's password away")
    task.add_argument("--new-password", action="store_true", help="make a password for the pages")
    parser.add_argument(
        "--password-file", type=Path, help="with --enrol: write the password there, show it nowhere"
    )
    return parser.parse_args(argv)


def _settings(options: argparse.Namespace) -> Settings:
    settings = Settings() if options.config is None else read_settings(options.config)
    data, web, broker = settings.data, settings.web, settings.broker
    if options.folder is not None:
        data = replace(data, folder=options.folder)
    if options.host is not None:
        web = replace(web, host=options.host)
    if options.port is not None:
        web = replace(web, port=_port("--port", options.port))
    if options.broker_port is not None:
        broker = replace(broker, port=_port("--broker-port", options.broker_port))
    return replace(settings, data=data, web=web, broker=broker)


def _port(name: str, port: int) -> int:
    if not 0 <= port <= 65535:
        raise InputError(f"{name} {port}: 0 (any free port) to 65535")
    return port


def _run(settings: Settings, config: Path | None) -> None:
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s %(message)s")
    for name in QUIET:
        logging.getLogger(name).setLevel(logging.WARNING)
    # it warns of each write to a connection that is gone
    logging.getLogger("asyncio").setLevel(logging.ERROR)
    # until the pages are served, which have their own
    before = signal.signal(signal.SIGTERM, _interrupt)
    try:
        run(settings, "the command line" if config is None else str(config), _say)
    except KeyboardInterrupt:  # while it started or ended
        logging.getLogger(__name__).info("ended")
    finally:
        signal.signal(signal.SIGTERM, before)


def _say(line: str) -> None:
    print(line, flush=True)


def _interrupt(_number: int, _frame: FrameType | None) -> NoReturn:
    raise KeyboardInterrupt


def _enrol(settings: Settings, name: str, password_file: Path | None) -> None:
    bench = _bench(name)
    if not settings.broker.is_embedded:
        raise ServerFileError("an outside broker keeps its own users: make the bench's there")
    credentials = Credentials(data_folder(settings))
    handle = None if password_file is None else _new_file(password_file)
    password = credentials.enrol(bench)
    print(f"{user_of(bench)} is enrolled; a password it had before counts no more")
    if handle is not None:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(password + "\n")
        shown = str(password_file)
    else:
        print(f"its password, shown this once: {password}")
        shown = "a file that holds the password"
    print(f'\n[uplink]\nhost = "{_broker_name(settings)}"\nport = {settings.broker.port}')
    print(f'username = "{user_of(bench)}"\npassword_file = "{shown}"')
    if settings.tls is not None:
        print('ca_file = "the certificate of the authority that signed the server\'s"')


def _broker_name(settings: Settings) -> str:
    """How a bench calls the machine of the broker."""
    if settings.broker.host not in EVERYWHERE:
        return settings.broker.host
    return next(iter(settings.web.names), "the server's name")


def _new_file(path: Path) -> int:
    try:
        return os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except OSError as error:
        raise InputError(f"{path}: {(error.strerror or str(error)).lower()}") from error


def _revoke(settings: Settings, name: str) -> None:
    bench = _bench(name)
    if not Credentials(data_folder(settings)).revoke(bench):
        raise InputError(f"{user_of(bench)} is not enrolled")
    print(f"{user_of(bench)} has no password any more; if it is connected, it is cut off")


def _new_password(settings: Settings) -> None:
    password = Credentials(data_folder(settings)).new_web_password()
    print(f"the pages' user is shop, its password, shown this once: {password}")


def _bench(name: str) -> BenchId:
    site, slash, bench = name.partition("/")
    try:
        if slash:
            return BenchId(site, bench)
    except MessageError as error:
        raise InputError(str(error)) from error
    raise InputError(f"{name!a}: SITE/BENCH expected, such as north/bay-1")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
