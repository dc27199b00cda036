"""Who may see the desk: whoever came by its link, and for the server's pages by theirs.

The secret of the link is exchanged for a cookie that this browser alone has, and that is sent
below the desk's own address only. Nothing of it is written anywhere.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass, field

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

COOKIE, LANGUAGE = "kikichoko-desk", "kikichoko-language"
_BYTES = 24


@dataclass(frozen=True)
class Visitors:
    """The secrets of one desk, for as long as it runs."""

    place: str = field(default_factory=lambda: secrets.token_urlsafe(9))
    _link: str = field(default_factory=lambda: secrets.token_urlsafe(_BYTES), repr=False)
    _pass: str = field(default_factory=lambda: secrets.token_urlsafe(_BYTES), repr=False)
    _server: bytes = field(default_factory=lambda: secrets.token_bytes(32), repr=False)
    _looks: dict[str, str] = field(default_factory=dict, repr=False)

    @property
    def root(self) -> str:
        """The path below which the desk lies."""
        return f"/{self.place}/"

    @property
    def entry(self) -> str:
        """The path of the link."""
        return f"{self.root}enter/{self._link}"

    def enter(self, secret: str) -> Response:
        """Let whoever has the link in."""
        if not _same(secret, self._link):
            return Response(status_code=404)
        answer = RedirectResponse(self.root, status_code=303)
        answer.set_cookie(
            COOKIE, self._pass, path=self.root, httponly=True, samesite="strict"
        )  # fmt: skip
        return answer

    def knows(self, request: Request) -> bool:
        """Tell whether a request comes from a browser that came by the link."""
        return _same(request.cookies.get(COOKIE, ""), self._pass)

    def server_path(self, session: str) -> str:
        """Return the path of the server's page of a session."""
        return f"/pour/{self._of_server(session)}/"

    def _of_server(self, session: str) -> str:
        return hmac.new(self._server, session.encode(), hashlib.sha256).hexdigest()[:40]

    def served(self, secret: str, sessions: list[str]) -> str | None:
        """Return the session whose server's link this is."""
        return next((one for one in sessions if _same(secret, self._of_server(one))), None)

    def look(self, session: str) -> str:
        """Note that somebody said who they are; return the last part of what they see."""
        made = secrets.token_urlsafe(_BYTES)
        self._looks[made] = session
        return made

    def looks(self, look: str, session: str) -> bool:
        """Tell whether that look was at this session."""
        return self._looks.get(look) == session


def _same(given: str, wanted: str) -> bool:
    return secrets.compare_digest(given.encode("utf-8", "replace"), wanted.encode())
