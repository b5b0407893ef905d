import pytest

from drainscale.errors import ServerFileError
from drainscale_server.settings.safety import check_safe, needs_password
from drainscale_server.settings.server_file import BrokerPlace, Settings, Tls, Web

TLS = Tls("shop.pem", "shop.key")
OPEN_WEB = Web(host="192.0.2.7")
OUTSIDE = BrokerPlace("outside", "mqtt.example", 8883, "server", "secret.txt", "ca.pem")


def test_on_this_machine_nothing_is_needed() -> None:
    check_safe(Settings(), "server.toml", has_web_password=False)


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "::", "shop"])
def test_pages_for_others_need_a_certificate_and_a_password(host: str) -> None:
    with pytest.raises(ServerFileError, match=r"\[web\] host = .* needs \[tls\]"):
        check_safe(Settings(web=Web(host=host)), "server.toml", has_web_password=True)
    with pytest.raises(ServerFileError, match="needs a password: drainscale server --new-password"):
        check_safe(Settings(web=Web(host=host), tls=TLS), "server.toml", has_web_password=False)
    check_safe(Settings(web=Web(host=host), tls=TLS), "server.toml", has_web_password=True)


def test_a_broker_for_others_needs_a_certificate() -> None:
    broker = BrokerPlace(host="0.0.0.0")
    with pytest.raises(ServerFileError, match=r"\[broker\] host = '0.0.0.0' .* needs \[tls\]"):
        check_safe(Settings(broker=broker), "server.toml", has_web_password=False)
    check_safe(Settings(broker=broker, tls=TLS), "server.toml", has_web_password=False)


def test_an_outside_broker_elsewhere_needs_name_password_and_certificate() -> None:
    check_safe(Settings(broker=OUTSIDE), "server.toml", has_web_password=False)
    bare = BrokerPlace("outside", "mqtt.example")
    with pytest.raises(ServerFileError, match="needs username, password_file, ca_file"):
        check_safe(Settings(broker=bare), "server.toml", has_web_password=False)


def test_only_others_are_asked_for_a_password() -> None:
    assert not needs_password(Settings())
    assert needs_password(Settings(web=OPEN_WEB))
