"""The pages of all commands: the list of them, a form of each, and what it said and made."""

from __future__ import annotations

import os
import re
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

from ..base.errors import InputRefused, PanelError
from ..base.words import say
from ..returns.guarded_pages import FORM
from .acts import Done
from .command_forms import (
    ELSEWHERE,
    FIGURES,
    NO_FORM,
    CommandField,
    CommandForm,
    command_words,
    described,
    folders,
    tables,
)
from .desk_requests import DeskRequests, html, remember
from .drawer import Drawer
from .page_writer import PageOf, Told
from .session_pages import bottles_of, tasters
from .uploads import dropped

SECTIONS = ("cli.section_session", "cli.section_tables", "cli.section_before")
"""In the order of the help."""
SHOWN = (".png", ".svg")
_MADE = re.compile(r"made (\w+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """What a command did: for its page, which is asked for afterwards.

    Attributes
    ----------
    told : Told
    printed : str
    made : str
        Name of the folder of what it wrote.
    given : dict of str to list of str
        What was typed.
    """

    told: Told
    printed: str = ""
    made: str = ""
    given: Mapping[str, Sequence[str]] = field(default_factory=dict)


class CommandPages:
    """The pages of all commands of one desk.

    Parameters
    ----------
    desk : DeskRequests
    """

    def __init__(self, desk: DeskRequests) -> None:
        self.desk = desk
        self.drawer = Drawer()
        self._ran: OrderedDict[str, Ran] = OrderedDict()

    def routes(self) -> list[Route]:
        """Return the addresses of the pages."""
        root, inside = self.desk.visitors.root, self.desk.inside
        made = []
        for own in (root, f"{root}s/{{session}}/"):
            made += [
                Route(f"{own}commands", inside(self._list), methods=["GET"]),
                Route(f"{own}do/{{command:path}}", inside(self._show), methods=["GET"]),
                Route(f"{own}do/{{command:path}}", inside(self._do), methods=["POST"]),
            ]
        take = inside(self._take)
        return [*made, Route(f"{root}made/{{made}}/{{name:path}}", take, methods=["GET"])]

    def _own(self, request: Request) -> str:
        """Return the address below which the page lies: a session's, or the desk's."""
        if "session" not in request.path_params:
            return self.desk.visitors.root
        self.desk.place(request)
        return f"{self.desk.visitors.root}s/{quote(request.path_params['session'])}/"

    async def _list(self, request: Request) -> Response:
        forms, own = await described(self.desk.language(request)), self._own(request)
        inside = "session" in request.path_params
        chosen = [one for one in forms if not inside or one.of_session]

        def write(page: PageOf) -> str:
            listed: dict[str, list[dict[str, str]]] = {key: [] for key in SECTIONS}
            for one in sorted(chosen, key=lambda form: (form.rank, form.words)):
                listed[one.section].append(self._entry(one, own, page, inside=inside))
            parts = [(say(key, page.language), rows) for key, rows in listed.items() if rows]
            key = "step_commands" if inside else "commands"
            return page.write("commands", page.say(key), parts=parts, inside=inside)

        return await self.desk.shown(request, "commands" if inside else "", write)

    def _entry(self, form: CommandForm, own: str, page: PageOf, *, inside: bool) -> dict[str, str]:
        word = form.words[0]
        why = page.say(NO_FORM[word]) if word in NO_FORM else ""
        place = ELSEWHERE.get(word, "")
        of_desk = place in ("new", "cellar")
        linked = place and (of_desk or inside)
        return {
            "name": " ".join(form.words),
            "first": form.first,
            "link": "" if why else f"{own}do/{form.path}",
            "why": why,
            "place": (self.desk.visitors.root if of_desk else own) + place if linked else "",
            "called": page.say(place if of_desk else f"step_{place}") if place else "",
        }

    async def _form(self, request: Request) -> CommandForm:
        path = request.path_params["command"]
        forms = await described(self.desk.language(request))
        found = next((one for one in forms if one.path == path), None)
        inside = "session" in request.path_params
        if found is None or found.words[0] in NO_FORM or (inside and not found.of_session):
            raise HTTPException(404)
        return found

    async def _show(self, request: Request) -> Response:
        form = await self._form(request)
        ran = self._ran.get(request.query_params.get("ran", ""))
        return await self._written(request, form, ran)

    async def _written(self, request: Request, form: CommandForm, ran: Ran | None) -> Response:
        own, root = self._own(request), self.desk.visitors.root
        place = self.desk.place(request) if "session" in request.path_params else None

        def write(page: PageOf) -> str:
            made = self.drawer.made(ran.made) if ran else {}
            address = f"{root}made/{ran.made}/" if ran else ""
            table = any(one.role == "table" for one in form.fields)
            fields = [_shown(one, page.language, place, table=table) for one in form.fields]
            return page.write(
                "command", " ".join(form.words), form=form, action=f"{own}do/{form.path}",
                main=[one for one in fields if one and not one["column"]],
                columns=[one for one in fields if one and one["column"]],
                values=ran.given if ran else {}, printed=ran.printed if ran else "",
                files=[(name, address + quote(name), Path(name).suffix in SHOWN) for name in made],
                choices=self._choices(form, place),
            )  # fmt: skip

        told = ran.told if ran else None
        page = self.desk.of(request, "commands" if place else "", told)
        text = await self.desk.said(page.language, lambda: write(page))
        return html(text, page.nonce)

    def _choices(self, form: CommandForm, place: Path | None) -> dict[str, list[str]]:
        """Return what can be chosen, by the role of a field, or proposed, by its name."""
        shelf = self.desk.shelf
        roles = {one.role for one in form.fields}
        found: dict[str, list[str]] = {"session": list(shelf.places())}
        if "table" in roles:
            found["table"] = list(tables(shelf, self.drawer.dropped))
        if roles & {"folder", "folders", "folders or new"}:
            found["folder"] = list(folders(shelf))
        if place is not None:
            found["assessor"] = _or_none(tasters, place)
            found["bottle"] = _or_none(bottles_of, place)
        return found

    async def _do(self, request: Request) -> Response:
        form = await self._form(request)
        if request.headers.get("content-type", "").partition(";")[0] == FORM:
            given = await self.desk.fields(request)
            ran = await self._ran_with(request, form, given, {})
        else:
            async with dropped(request) as came:
                given = came.fields
                ran = await self._ran_with(request, form, given, came.files)
        self.desk.told_line(request, ran.told)
        query = urlencode({"ran": remember(self._ran, ran)})
        return RedirectResponse(f"{self._own(request)}do/{form.path}?{query}", status_code=303)

    async def _ran_with(
        self,
        request: Request,
        form: CommandForm,
        given: dict[str, list[str]],
        files: Mapping[str, list[Path]],
    ) -> Ran:
        """Run the command that was asked for, in an empty folder for what it writes."""
        language = self.desk.language(request)
        if form.asks_yes and not given.get("_yes"):
            told = Told(well=False, heading=say("desk.say_yes", language))
            return Ran(told=told, given=given)
        name, room = self.drawer.room()
        try:
            paths = self._paths(request, form, given, files, room)
        except InputRefused as refusal:
            lines = tuple(refusal.sentence.to(language).splitlines())
            told = Told(well=False, heading=say("desk.refused", language), lines=lines)
            return Ran(told=told, given=given)
        done = await self.desk.act(request, *command_words(form, given, paths), place=room)
        if done.printed:
            kind = "json" if done.printed.startswith("{") else "txt"
            (room / f"{form.words[0]}.{kind}").write_text(done.printed + "\n", "utf-8")
        lines = self.desk.lines_of(request, done.said.replace(f"{room}{os.sep}", ""))
        told = _told(form, done, given, language, lines)
        return Ran(told=told, printed=done.printed, made=name, given=given)

    def _paths(
        self,
        request: Request,
        form: CommandForm,
        given: dict[str, list[str]],
        files: Mapping[str, list[Path]],
        room: Path,
    ) -> dict[str, list[Path]]:
        """Return the paths that a form names: only such as it offers.

        Raises
        ------
        HTTPException
            400 for any other.
        InputRefused
            If a folder's name is none.
        """
        shelf = self.desk.shelf
        found: dict[str, list[Path]] = {}
        for one in form.fields:
            chosen = [value for value in given.get(one.name, ()) if value]
            made = _MADE.fullmatch(one.role)
            if one.role == "session":
                own = request.path_params.get("session")
                found[one.name] = _among(shelf.places(), [own] if own else chosen[:1])
            elif one.role in ("table", "files"):
                kept = [self.drawer.keep(path) for path in files.get(one.name, ())]
                if kept:
                    given[one.name] = kept if one.role == "files" else kept[-1:]
                    chosen = list(given[one.name])
                found[one.name] = _among(tables(shelf, self.drawer.dropped), chosen)
            elif one.role in ("folder", "folders", "folders or new"):
                found[one.name] = _among(folders(shelf), chosen)
                new = "".join(given.get("_new", ())).strip()
                if one.role == "folders or new" and new:
                    found[one.name] = [shelf.free(new)]
            elif one.role == "new":
                found[one.name] = [shelf.free("".join(chosen).strip())]
            elif one.role == "kept folder":
                found[one.name] = [shelf.kept("".join(chosen).strip() or one.default)]
            elif made and made[1] == "csv":
                found[one.name] = [room / f"{form.words[0]}.csv"] if chosen else []
            elif made and made[1] == "figure":
                if not {*chosen} <= {*FIGURES}:
                    raise HTTPException(400)
                found[one.name] = [room / f"{one.name}.{kind}" for kind in chosen[:1]]
            elif made:
                found[one.name] = [room / one.name] if chosen else []
        return found

    async def _take(self, request: Request) -> Response:
        """Hand out a file that a command wrote; a picture runs nothing and loads nothing."""
        have = self.drawer.made(request.path_params["made"])
        path = have.get(request.path_params["name"])
        if path is None:
            raise HTTPException(404)
        way = "inline" if path.suffix in (*SHOWN, ".pdf") else "attachment"
        answer = FileResponse(path, filename=path.name, content_disposition_type=way)
        answer.headers["Content-Security-Policy"] = (
            "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
        )
        return answer


def _told(
    form: CommandForm, done: Done, given: Mapping[str, Sequence[str]], language: str,
    lines: tuple[str, ...],
) -> Told:  # fmt: skip
    """Say what a command did, in its own words; what it wrote is told by its bare name."""
    if done.well:
        return Told(well=True, heading=say("desk.done", language), lines=lines)
    would = any(one.option == "--yes" for one in form.fields) and not given.get("yes")
    if would and len(lines) > 1:
        return Told(well=True, heading=say("desk.would", language), lines=lines[:-1])
    return Told(well=False, heading=say("desk.refused", language), lines=lines)


def _among(have: Mapping[str, Path], chosen: Sequence[str]) -> list[Path]:
    if not {*chosen} <= have.keys():
        raise HTTPException(400)
    return [have[one] for one in chosen]


def _or_none(read: Any, place: Path) -> list[str]:
    """Return what a session proposes for a field; nothing where it cannot be read."""
    try:
        return list(read(place))
    except (PanelError, OSError):
        return []


def _shown(
    one: CommandField, language: str, place: Path | None, *, table: bool
) -> dict[str, Any] | None:
    """Say how a field is shown; None where there is nothing to ask."""
    if one.role == "session" and place is not None:
        return None
    proposed = {"assessor": "assessor", "tasted": "assessor", "by": "bottle", "bottle": "bottle"}
    return {
        "name": one.name,
        "role": one.role.replace(" ", "_"),
        "label": one.label(language),
        "option": one.option,
        "choices": one.choices or (FIGURES if one.role == "made figure" else ()),
        "many": one.many and bool(one.option),
        "needed": one.needed or one.role == "new",
        "default": one.default,
        "proposed": proposed.get(one.name, "") if one.role == "text" else "",
        "column": one.is_column and table,
    }
