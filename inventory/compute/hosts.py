"""Which names mean this machine alone."""

import ipaddress


def is_loopback(host: str) -> bool:
    """Tell whether what goes to this name or address stays on the machine."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host == "localhost"
