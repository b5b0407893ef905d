"""Where the broker is, and what is refused as unsafe."""

from dataclasses import dataclass
from pathlib import Path

from drainscale.errors import InputError
from drainscale.messages.addresses import is_loopback

MQTT_PORT = 1883
MQTT_TLS_PORT = 8883


@dataclass(frozen=True, slots=True)
class BrokerSettings:
    """How to reach the broker.

    Attributes:
        ca_file: Certificates to trust, PEM; None: those of the system. Only with TLS.

    Raises:
        InputError: Off the loopback address without user, password and TLS.
    """

    host: str = "127.0.0.1"
    port: int = MQTT_PORT
    user: str | None = None
    password: str | None = None
    is_tls: bool = False
    ca_file: Path | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.port <= 65535:
            raise InputError(f"broker port {self.port}: 1 to 65535")
        if is_loopback(self.host):
            return
        missing = [
            what
            for what, is_there in (
                ("TLS", self.is_tls),
                ("a user name", bool(self.user)),
                ("a password", bool(self.password)),
            )
            if not is_there
        ]
        if missing:
            raise InputError(f"broker {self.host} is not this machine: {', '.join(missing)} needed")

    def __repr__(self) -> str:
        # may end up in a log
        return f"BrokerSettings({self.host}:{self.port}, user={self.user}, tls={self.is_tls})"
