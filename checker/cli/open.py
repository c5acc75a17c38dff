"""`prescreed open`: the program as a page in the browser of this computer."""

from __future__ import annotations

import argparse
import secrets
import socket
import webbrowser

from checker.run.telling import Parser, say, tell
from checker.words.extras import needs

UNUSABLE = 2
HERE = "127.0.0.1"


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed open",
        description="Open a page on this computer: drop a sheet, a design, a folder or a "
        "zip, see the report, change a value, download site sheet, letter, "
        "marked workbook. Only this computer can reach it, at a random address,"
        " and it keeps no file. Ctrl-C ends it.",
    )
    made.add_argument(
        "--port", type=int, default=0, metavar="N", help="the port (default: any free one)"
    )
    made.add_argument(
        "--no-browser", action="store_true", help="print the address without opening a browser"
    )
    return made


def run(words: list[str]) -> int:
    """Serve until the user ends it; returns the exit status."""
    arguments = parser().parse_args(words)
    try:
        import uvicorn

        from checker.page.app import app
    except ModuleNotFoundError as error:
        tell(f"prescreed open: {error.name} is not installed; the page {needs('page')}.")
        return UNUSABLE
    if not 0 <= arguments.port <= 65535:
        tell(f"prescreed open: --port: {arguments.port} is not a port; write 0 to 65535.")
        return UNUSABLE
    token = secrets.token_urlsafe(24)
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        bound.bind((HERE, arguments.port))
    except OSError as error:
        tell(f"prescreed open: --port: {arguments.port} cannot be had: {error.strerror}.")
        return UNUSABLE
    address = f"http://{HERE}:{bound.getsockname()[1]}/{token}/"
    say(f"The page is at {address}", "Ctrl-C ends it.")
    _flush()
    if not arguments.no_browser:
        webbrowser.open(address)
    config = uvicorn.Config(
        app(token), log_level="warning", access_log=False, server_header=False, lifespan="off",
        timeout_keep_alive=5, h11_max_incomplete_event_size=64 * 1024,
    )  # fmt: skip
    uvicorn.Server(config).run(sockets=[bound])
    return 0


def _flush() -> None:
    import sys

    sys.stdout.flush()
