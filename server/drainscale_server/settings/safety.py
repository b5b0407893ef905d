"""What is refused as unsafe: anything off this machine without TLS and credentials. Pure.

A password that crosses a shop's network in clear is everybody's; a broker that anybody may
publish to measures whatever anybody likes.
"""

from collections.abc import Iterator

from drainscale.errors import ServerFileError
from drainscale.messages.addresses import is_loopback
from drainscale_server.settings.server_file import BrokerPlace, Settings


def check_safe(settings: Settings, name: str, *, has_web_password: bool) -> None:
    """Refuse what is unsafe.

    Args:
        settings: What the server is to do.
        name: How the message calls the file they come from.
        has_web_password: Whether somebody made a password for the pages.

    Raises:
        ServerFileError: Names the key, and what is missing.
    """
    breach = next(_breaches(settings, has_web_password), None)
    if breach is not None:
        raise ServerFileError(f"{name}: {breach}")


def needs_password(settings: Settings) -> bool:
    """Tell whether the pages ask for a password: whenever others than this machine reach them."""
    return not is_loopback(settings.web.host)


def _breaches(settings: Settings, has_web_password: bool) -> Iterator[str]:
    web, broker, has_tls = settings.web, settings.broker, settings.tls is not None
    if not is_loopback(web.host):
        place = f"[web] host = {web.host!r} is not this machine"
        if not has_tls:
            yield f"{place}: needs [tls] certificate_file and key_file"
        if not has_web_password:
            yield f"{place}: needs a password: drainscale server --new-password"
    if is_loopback(broker.host):
        return
    place = f"[broker] host = {broker.host!r} is not this machine"
    if broker.is_embedded and not has_tls:
        yield f"{place}: needs [tls] certificate_file and key_file"
    if not broker.is_embedded:
        missing = _missing(broker)
        if missing:
            yield f"{place}: needs {', '.join(missing)}"


def _missing(broker: BrokerPlace) -> list[str]:
    keys = ("username", "password_file", "ca_file")
    return [key for key in keys if getattr(broker, key) is None]
