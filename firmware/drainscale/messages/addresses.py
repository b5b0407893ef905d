"""Which addresses are this machine's own: only those go without credentials and TLS. Pure."""

import ipaddress


def is_loopback(host: str) -> bool:
    """Tell whether a host name or address is this machine's loopback, without asking a server."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
