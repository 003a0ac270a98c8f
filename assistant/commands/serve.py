"""`rodside serve`: the page for phones on the local network, and the list of those that may use it."""

from __future__ import annotations

import argparse
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.commands.opening import book_of_today, keeper
from assistant.environment import Environment, ExitStatus, Trouble
from assistant.hearing.ears import open_ear

if TYPE_CHECKING:
    from assistant.page.devices import Devices, Rights


WAITS_FOR_NETWORK = 60.0
"""Seconds that a box without a screen waits for an address after it was switched on."""


class NoPage(Trouble):
    """The packages of the page are not installed."""

    status = ExitStatus.USAGE


class NoTable(Trouble):
    """The table of phones cannot be used."""

    status = ExitStatus.USAGE


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Serve until interrupted; or list, pair or revoke, beside a server that runs."""
    try:
        from assistant.page.devices import Devices, Rights
    except ImportError as missing:
        raise NoPage(f"The page needs more packages ({missing.name}); install rodside[page].") from missing
    folder: Path = options.state or world.state
    table = folder / "devices.sqlite"
    try:
        with closing(Devices(table, world.clock)) as devices:
            if options.devices:
                return _list(devices, world)
            if options.revoke:
                return _revoke(devices, options.revoke, world)
            if options.pair:
                return _pair(devices, Rights[options.pair.upper()], options, world)
            return _serve(devices, folder, options, world)
    except sqlite3.Error as trouble:
        raise NoTable(f"The table of phones cannot be used ({trouble}): {table}") from trouble


def _list(devices: Devices, world: Environment) -> ExitStatus:
    for device in devices.all():
        world.say(f"{device.name:32} {device.rights.name.lower()}")
    return ExitStatus.OK


def _revoke(devices: Devices, name: str, world: Environment) -> ExitStatus:
    if devices.revoke(name):
        world.say(f"{name} is let in no more.")
        return ExitStatus.OK
    world.warn(f"rodside: no device is called {name}; see rodside serve --devices.")
    return ExitStatus.NOT_UNDERSTOOD


def _pair(devices: Devices, rights: Rights, options: argparse.Namespace, world: Environment) -> ExitStatus:
    from assistant.page.invitation import WHAT, address_with, picture, spaced

    code = devices.offer(rights)
    page = f"https://{_names(options)[0]}:{options.port}"
    world.say(f"At {page}, this code lets one device {WHAT[rights]}: {spaced(code)}")
    world.say(picture(address_with(page, code)))
    return ExitStatus.OK


def _serve(devices: Devices, folder: Path, options: argparse.Namespace, world: Environment) -> ExitStatus:
    from assistant.page import app
    from assistant.page.addresses import wait_for_network
    from assistant.page.authority import certificates
    from assistant.page.conversation import Conversation
    from assistant.page.devices import Rights
    from assistant.page.guard import Gate
    from assistant.page.hub import Hub
    from assistant.page.invitation import invitation
    from assistant.page.log import told
    from assistant.page.server import Ports, serve

    if options.headless and not options.address:
        wait_for_network(WAITS_FOR_NETWORK)
    names = _names(options)
    page, landing = f"https://{names[0]}:{options.port}", f"http://{names[0]}:{options.landing_port}"
    vouched = folder / "certificates"
    made = certificates(vouched, names, world.clock)
    if made.replaced:
        world.warn(
            f'rodside: the certificate authority "{made.replaced}" was replaced by a new one with tighter limits or a '
            f"later end. Every phone must trust the new one, once, at {landing}, and should forget the old."
        )
    path = options.book or book_of_today(world)
    keep = keeper(path, options.keep_audio, world)
    talk = Conversation(
        path,
        world.clock,
        lambda: open_ear(options.ears, options.model),
        world.warn,
        keep,
        quiet=options.quiet,
        cache=world.cache,
    )

    def ready() -> None:
        world.say(f"The book is {path}.")
        if options.headless:
            world.say(f"Ready at {page}. To pair a phone: rodside serve --pair log")
            _say_ready(options, world)
        else:
            codes = {rights: devices.open_offer(rights) or devices.offer(rights) for rights in Rights}
            world.say(invitation(page, landing, made.fingerprint, codes))

    with closing(talk), told(world.warn):
        hub = Hub(talk, devices)
        sites = app.page(hub, devices, Gate(names, devices)), app.landing(made, page, Gate(names))
        ports = Ports(options.address or "", options.port, options.landing_port)
        serve(*sites, hub, ports, lambda: certificates(vouched, names, world.clock, serving=True), ready)
    return ExitStatus.OK


def _names(options: argparse.Namespace) -> list[str]:
    from assistant.page.addresses import own_addresses, own_names

    if options.address:
        return [options.address, "localhost"]
    return [*own_addresses(), *own_names()]


def _say_ready(options: argparse.Namespace, world: Environment) -> None:
    from threading import Thread

    from assistant.speaking.mouth import Mouth

    if not options.quiet:
        Thread(target=lambda: Mouth(world.warn).say("Rodside is ready."), daemon=True).start()
