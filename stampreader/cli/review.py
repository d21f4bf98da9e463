"""`stampreader review`: the page in the browser, and the phone as camera."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from stampreader.cli.common import RegisterOption, now, register_path, say
from stampreader.cli.person import WhoOption


def command(
    delivery: Annotated[
        str | None,
        typer.Option(
            "--delivery", metavar="NAME", help="Only this delivery; the phone's photos go there."
        ),
    ] = None,
    phone: Annotated[
        bool,
        typer.Option("--phone", help="Listen on the local network too, for a phone as camera."),
    ] = False,
    phone_address: Annotated[
        str | None,
        typer.Option(
            "--phone-address",
            metavar="ADDRESS",
            help="This computer's address on the network the phone is in; else found by itself.",
        ),
    ] = None,
    photos: Annotated[
        Path | None,
        typer.Option(
            "--photos",
            metavar="FOLDER",
            help="Where photos from the phone are kept; else beside the register.",
        ),
    ] = None,
    port: Annotated[
        int,
        typer.Option("--port", min=0, max=65535, help="Port on this computer; else a free one."),
    ] = 0,
    no_open: Annotated[
        bool, typer.Option("--no-open", help="Only print the address, open no browser.")
    ] = False,
    readers: Annotated[
        str | None,
        typer.Option(
            "--readers",
            metavar="NAME,…",
            help="Readers for the phone's photos; else the fast ones.",
        ),
    ] = None,
    who: WhoOption = None,
    register: RegisterOption = None,
) -> None:
    """Confirm what was read in the browser, with the picture beside each figure."""
    from contextlib import closing

    from stampreader.cli.opening import page_tools, phone_crew, show_joined, show_links
    from stampreader.cli.person import who_decides
    from stampreader.register import read_settings

    with page_tools():
        from stampreader.web import local_address, open_workplace, serve

    place = register_path(register)
    with_phone = phone or phone_address is not None
    address = (phone_address or local_address()) if with_phone else None
    shared = open_workplace(
        place,
        create=with_phone,
        who=lambda book: who_decides(who, read_settings(book)),
        clock=now,
        tell=say,
        crew=phone_crew(readers),
        photos=photos or place.with_name(f"{place.stem}-photos"),
        delivery=delivery,
    )
    with closing(shared):
        if with_phone:
            shared.warm_up()
        serve(
            shared,
            port=port,
            phone_address=address,
            ready=lambda links: show_links(links.laptop, links.phone, open_it=not no_open),
            joined=lambda gate, link: show_joined(link, phone=not gate.trusted),
        )
    say("The page is closed. What was confirmed is stored.")
