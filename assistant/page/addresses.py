"""Under which names phones can find this machine."""

from __future__ import annotations

import socket
from ipaddress import ip_address
from time import monotonic, sleep

from assistant.page.authority import may_vouch


def own_addresses() -> list[str]:
    """The machine's addresses of private use, that of a real network first."""
    import ifaddr

    found = [str(ip.ip) for adapter in ifaddr.get_adapters() for ip in adapter.ips if ip.is_IPv4]
    private = sorted({one for one in found if may_vouch(one) and not ip_address(one).is_loopback})
    return [*private, "127.0.0.1"]


def wait_for_network(seconds: float) -> None:
    """Wait until the machine has an address on a network, as it has not yet when it starts; not for ever."""
    ends = monotonic() + seconds
    while len(own_addresses()) < 2 and monotonic() < ends:
        sleep(0.5)


def own_names() -> list[str]:
    """What the machine is called on a network without a name server (RFC 6762), and by itself."""
    host = socket.gethostname().partition(".")[0].lower()
    name = f"{host}.local"
    return [name, "localhost"] if may_vouch(name) and host.replace("-", "").isalnum() else ["localhost"]
