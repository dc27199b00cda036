"""The links of a table: one an assessor and one for the leader, that nobody can guess.

``table/links.json`` in the session folder, readable by its owner alone. Links stay what they
are when the table is stopped and served again, so that cards and open pages go on.
"""

from __future__ import annotations

import json
import secrets
import socket
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from ..base.errors import InputRefused
from ..base.private_files import close, private_folder
from ..base.whole_files import write_text
from ..returns.forgotten_rows import TABLE

FILE = TABLE / "links.json"
HERE = "127.0.0.1"
ANY = ("0.0.0.0", "::", "*")  # noqa: S104 - refused
_BYTES = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Links:
    """Where a table is reached.

    Attributes
    ----------
    host : str
        Name or address of this machine, as telephones say it.
    port : int
    leader : str
        The secret part of the leader's link.
    seats : dict of str to str
        The secret part of each assessor's.
    """

    host: str
    port: int
    leader: str = field(repr=False)
    seats: dict[str, str] = field(repr=False)

    @property
    def place(self) -> str:
        """Host and port."""
        return f"{self.host}:{self.port}"

    @property
    def leaders(self) -> str:
        """The leader's link."""
        return f"http://{self.place}/l/{self.leader}/"

    def of(self, assessor: str) -> str:
        """Return the link of an assessor."""
        return f"http://{self.place}/t/{self.seats[assessor]}/"


def read_links(folder: Path) -> Links | None:
    """Read the links of a session; None where there are none, or the file is damaged."""
    try:
        told = json.loads((folder / FILE).read_text("utf-8"))
        return Links(
            host=str(told["host"]),
            port=int(told["port"]),
            leader=str(told["leader"]),
            seats={str(code): str(secret) for code, secret in told["seats"].items()},
        )
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return None


def make_links(
    folder: Path, assessors: Iterable[str], host: str, port: int = 0, *, anew: bool = False
) -> Links:
    """Make the links of a table, and keep those that there are.

    Parameters
    ----------
    folder : Path
    assessors : iterable of str
        Whoever has a seat.
    host : str
        Name or address of this machine under which it is reached.
    port : int
        0 for the one of before, else any that is free.
    anew : bool
        Whether links of before hold no longer.

    Raises
    ------
    InputRefused
        If the host is not this machine, or the port is taken.
    """
    before = read_links(folder)
    if port == 0 and before is not None:
        port = before.port if is_free(host, before.port) else 0
    kept = None if anew else before
    links = Links(
        host=host,
        port=bound_port(host, port),
        leader=kept.leader if kept else secrets.token_urlsafe(_BYTES),
        seats={
            code: (kept.seats.get(code) if kept else None) or secrets.token_urlsafe(_BYTES)
            for code in assessors
        },
    )
    private_folder(folder / TABLE)
    told = {"host": host, "port": links.port, "leader": links.leader, "seats": links.seats}
    write_text(folder / FILE, json.dumps(told, indent=1) + "\n")
    close(folder / FILE)
    return links


def listen(host: str, port: int) -> socket.socket:
    """Open the socket of a table.

    Raises
    ------
    InputRefused
        If the host is not this machine, or the port is taken.
    """
    if host in ANY:
        raise InputRefused("serve.any_host", host=host, guess=own_address())
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host, port))
        made.listen(1024)
    except OSError as fault:
        made.close()
        raise InputRefused(
            "serve.no_host", host=host, port=port or "–", why=fault, guess=own_address()
        ) from fault
    return made


def bound_port(host: str, port: int) -> int:
    """Return a port that can be listened at: the one that is asked for, or any for 0."""
    with listen(host, port) as made:
        return int(made.getsockname()[1])


def is_free(host: str, port: int) -> bool:
    """Tell whether a port can be listened at."""
    try:
        bound_port(host, port)
    except InputRefused:
        return False
    return True


def own_address() -> str:
    """Return the address of this machine on its network; nothing is sent to find it.

    To connect by UDP sends no packet; the address is one that documents use (RFC 5737).
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as made:
        try:
            made.connect(("192.0.2.1", 9))
            return str(made.getsockname()[0])
        except OSError:
            return HERE
