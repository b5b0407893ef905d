from typing import Any

import pytest

from drainscale.errors import InputError
from drainscale.messages.addresses import is_loopback
from drainscale.uplink.broker import BrokerSettings

SAFE: dict[str, Any] = {"user": "bay-3", "password": "secret", "is_tls": True}


# RFC 1122, 3.2.1.3: 127/8; RFC 4291, 2.5.3: ::1; RFC 6761, 6.3: localhost
@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.10", "::1", "[::1]", "localhost"])
def test_loopback_needs_nothing(host: str) -> None:
    assert is_loopback(host)
    assert BrokerSettings(host).user is None


@pytest.mark.parametrize("host", ["192.168.1.4", "0.0.0.0", "::", "shop", "localhost.example.org"])
@pytest.mark.parametrize("missing", [{"user": None}, {"password": ""}, {"is_tls": False}])
def test_any_other_host_needs_user_password_and_tls(host: str, missing: dict[str, Any]) -> None:
    assert BrokerSettings(host, **SAFE).host == host
    with pytest.raises(InputError, match="is not this machine"):
        BrokerSettings(host, **SAFE | missing)


def test_all_that_is_missing_is_named() -> None:
    with pytest.raises(InputError, match="TLS, a user name, a password needed"):
        BrokerSettings("shop")


def test_port_out_of_range_is_refused() -> None:
    with pytest.raises(InputError, match="1 to 65535"):
        BrokerSettings(port=0)


def test_password_does_not_show() -> None:
    assert "secret" not in repr(BrokerSettings(password="secret"))
