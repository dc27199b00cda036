"""Reading and checking a session folder: settings, bottles, assessors and questions."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args

from pydantic import ValidationError

from ...forms.questions.cards import EDITION
from ...forms.questions.question_types import Kind, Scorecard
from ...forms.questions.scorecard import ScorecardFault, change, default_scorecard
from ...forms.questions.timed_part import FEWEST_WORDS, MOST_WORDS, timed_part
from ...forms.questions.words import languages
from ..base.errors import FolderFault, NotReady
from ..base.problems import Problem, line_of, listed, problem
from ..base.toml_text import toml_of
from ..base.words import Sentence
from .bottles import Bottle, read_bottles
from .methods import METHODS, Method
from .own_words import own_vocabulary
from .primary_questions import read_primary
from .roster import Assessor, read_assessors
from .session import Session
from .set_checks import set_faults
from .settings import Settings

SETTINGS = "session.toml"
AFTER_ALL = ("side_by_side", "choice")
"""Options that ask again when all cups were judged: one person alone knows the codes by then."""
MOST_INSIDE = 5
"""Sessions that are named of a folder that holds some."""
FEW_ASSESSORS = 3
"""Assessors below which it is said how little they can show."""


def load(folder: Path) -> Session:
    """Read and check a session folder.

    Raises
    ------
    NotReady
        If there is no session in that folder.
    FolderFault
        With every fault of the three files at once.
    """
    session, faults = examine(folder)
    if session is None:
        raise FolderFault("folder.refused", n=len(faults), listed=listed(faults))
    return session


def _nearly_named(folder: Path) -> Path | None:
    """Return the session beside a folder that has none, if one is named nearly like it."""
    try:
        names = [one.name for one in folder.parent.iterdir() if (one / SETTINGS).is_file()]
    except OSError:
        return None
    found = get_close_matches(folder.name, names, n=1)
    return folder.with_name(found[0]) if found else None


def _sessions_in(folder: Path) -> list[str]:
    """Name the sessions that stand in a folder which is none itself, some of many."""
    try:
        found = sorted(one for one in folder.iterdir() if (one / SETTINGS).is_file())
    except OSError:
        return []
    return [f"'{one}'" for one in found[:MOST_INSIDE]]


def examine(folder: Path) -> tuple[Session | None, list[Problem]]:
    """Read and check a session folder; return the session, or None and every fault.

    Raises
    ------
    NotReady
        If there is no session in that folder.
    """
    path = folder / SETTINGS
    if not path.is_file():
        planned = (folder / "plan" / "plan.json").is_file()
        key = "lost_session" if planned else "not_a_folder" if folder.is_file() else "no_session"
        near = _nearly_named(folder) if key == "no_session" else None
        if near is not None:
            raise NotReady("folder.no_session_near", folder=folder, near=near)
        if key == "no_session" and (inside := _sessions_in(folder)):
            raise NotReady("folder.no_session_inside", folder=folder, listed=inside)
        raise NotReady(f"folder.{key}", folder=folder)
    settings, faults = _settings(path)
    assessors, wrong = read_assessors(folder, languages())
    faults += wrong
    scorecard = default_scorecard()
    cautions: list[Problem] = []
    rated: list[str] | None = None
    if settings is not None:
        text = path.read_text("utf-8")
        method = METHODS[settings.method]
        scorecard, wishes = _asked(settings, edition_of(folder))
        rated = _rated(scorecard)
        faults += [
            problem(
                _place(text, (wish.question or wish.field,)),
                f"question_{wish.kind}",
                question=wish.question,
                field=wish.field,
                found=wish.found,
                expected=wish.expected,
            )
            for wish in wishes
        ]
        _, unclear = own_vocabulary(settings.questions.words, settings.questions.faults)
        faults += [
            problem(
                _place(text, (wish.term,)),
                f"own_{wish.kind}",
                term=wish.term,
                found=wish.found,
                expected=wish.expected,
            )
            for wish in unclear
        ]
    bottles, wrong, unusual = read_bottles(folder, rated)
    faults += wrong
    cautions += unusual
    if settings is not None:
        faults += _contradictions(settings, bottles, text)
        faults += set_faults(method, settings, bottles)
        faults += _timed_faults(settings, scorecard, text)
        compared = [one.name for one in bottles if one.use == "sample" and not one.control]
        makers = any(one.role == "maker" for one in assessors)
        place = _place(text, ("primary",))
        given = settings.questions.primary
        faults += read_primary(given, scorecard, compared, makers=makers, place=place)[1]
        cautions += _unwise(method, settings, bottles, assessors, scorecard)
        if settings.seed is not None:
            cautions.append(problem(_place(text, ("seed",)), "seed_unused"))
    if faults or settings is None:
        return None, faults
    session = Session(
        folder=folder,
        settings=settings,
        bottles=bottles,
        assessors=assessors,
        scorecard=scorecard,
        cautions=tuple(cautions),
        edition=edition_of(folder),
    )
    return session, []


def settings_of(folder: Path) -> Settings:
    """Read ``session.toml``, and nothing else of the folder.

    Raises
    ------
    FolderFault
        If it is faulty.
    """
    settings, faults = _settings(folder / SETTINGS)
    if settings is None:
        raise FolderFault("folder.refused", n=len(faults), listed=listed(faults))
    return settings


def language_of(folder: Path) -> str:
    """Return the language of a session as far as it can be told, also of one that has faults."""
    try:
        text = (folder / SETTINGS).read_text("utf-8-sig", errors="replace")
    except OSError:
        return ""
    written = re.search(r"""^language\s*=\s*["'](\w+)["']""", text, re.MULTILINE)
    return written[1] if written and written[1] in languages() else ""


def edition_of(folder: Path) -> int:
    """Return the edition of the cards that a session was planned with; the newest without a plan.

    A plan that cannot be read is refused where it is read.
    """
    try:
        asked = json.loads((folder / "plan" / "plan.json").read_text("utf-8"))["asked"]
        return int(asked.get("edition", 1))
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return EDITION


def card_of(settings: Settings, folder: Path) -> Scorecard:
    """Return what the session of a folder asks, as far as its wishes can be met."""
    return _asked(settings, edition_of(folder))[0]


def _asked(settings: Settings, edition: int) -> tuple[Scorecard, tuple[ScorecardFault, ...]]:
    """Return the scorecard as the session wishes it, and what of its wishes is faulty."""
    asked = settings.questions
    card = METHODS[settings.method].scorecard(settings.test, asked.card, asked.options, edition)
    return change(card, **asked.model_dump(exclude={"primary", "card", "options"}))


def _settings(path: Path) -> tuple[Settings | None, list[Problem]]:
    """Read ``session.toml``; name the line of each fault."""
    try:
        text = path.read_text("utf-8-sig")
        return Settings.model_validate(toml_of(text)), []
    except UnicodeDecodeError:
        return None, [problem(SETTINGS, "not_utf8")]
    except ValidationError as wrong:
        return None, [_explained(text, fault) for fault in wrong.errors()]
    except ValueError as fault:  # no TOML, numbers or depth without end
        return None, [problem(SETTINGS, "not_toml", why=str(fault)[:300])]


def _explained(text: str, fault: Mapping[str, Any]) -> Problem:
    """Turn one fault of the validator into our words."""
    path = tuple(str(part) for part in fault["loc"])
    limits = fault.get("ctx", {})
    values: dict[str, object] = {}
    match fault["type"]:
        case "missing":
            key = "setting_missing"
        case "extra_forbidden":
            section = path[0] if len(path) > 1 else ""
            part = _section(section) if section else Settings
            fields = getattr(part, "model_fields", {})
            key, values = "setting_unknown", {"options": list(fields)}
        case "literal_error":
            key, values = "setting_choice", {"options": _literals(str(limits.get("expected", "")))}
        case "string_pattern_mismatch":
            key = "setting_name"
        case _:
            key, values = "setting_wrong", {"rule": _rule(str(fault["type"]), limits)}
    found = fault["input"] if fault["type"] != "missing" else ""
    setting = ".".join(path)
    return problem(_place(text, path), key, setting=setting, found=_found(found), **values)


def _section(name: str) -> object:
    """Return the class of a section, also of one that may be left out."""
    wanted = Settings.model_fields[name].annotation
    return next((one for one in get_args(wanted) if hasattr(one, "model_fields")), wanted)


def _literals(expected: str) -> list[str]:
    """List what the validator expected, which it joins in English.

    Examples
    --------
    >>> _literals("'opaque', 'red-light' or 'none'")
    ["'opaque'", "'red-light'", "'none'"]
    """
    return re.findall(r"'[^']*'", expected)


def _found(value: object) -> str:
    """Write what stood there, shortened; numbers and depths without end cannot be written."""
    try:
        return repr(value)[:200]
    except (ValueError, RecursionError):
        return "…"


def _rule(kind: str, limits: Mapping[str, Any]) -> object:
    """Say what a setting had to be, in a few words."""
    from ..base.words import sentence

    for name in ("ge", "gt", "le", "lt"):
        if name in limits:
            return sentence(f"folder.rule_{name}", limit=limits[name])
    for part in ("int", "float", "bool", "date", "string", "list"):
        if kind.startswith(part):
            return sentence(f"folder.rule_{part}")
    return kind


def _place(text: str, path: tuple[str, ...]) -> str | Sentence:
    """Name the line of a setting: the last key of `path` below its section's heading."""
    lines = text.splitlines()
    start = 0
    if len(path) > 1:
        heading = re.compile(rf"^\s*\[+\s*{re.escape(path[0])}\b")
        start = next((i for i, line in enumerate(lines) if heading.match(line)), 0)
    last = re.escape(path[-1])
    wanted = re.compile(rf'^\s*"?{last}"?\s*=|=\s*"{last}"|"{last}"')
    for number, line in enumerate(lines[start:], start=start + 1):
        if wanted.search(line) and not line.lstrip().startswith("#"):
            return line_of(SETTINGS, number)
    return line_of(SETTINGS, start + 1) if start else SETTINGS


def _rated(scorecard: Scorecard) -> list[str]:
    """Return the keys of the faults that the scorecard asks for."""
    return [
        attribute.partition(":")[2]
        for question in scorecard
        if question.kind is Kind.FAULTS
        for attribute in question.attributes
    ]


def _tells(shown: str, secret: str) -> bool:
    """Tell whether a text names what is in a cup; Japanese puts no blanks around its words."""
    if not secret.isascii():
        return len(secret) > 1 and secret.casefold() in shown.casefold()
    return len(secret) > 2 and bool(re.search(rf"(?i)(?<!\w){re.escape(secret)}(?!\w)", shown))


def _contradictions(settings: Settings, bottles: tuple[Bottle, ...], text: str) -> list[Problem]:
    """Find settings that cannot hold together."""
    faults = []
    serving = settings.serving
    names = [bottle.name for bottle in bottles]
    if serving.warm_up and serving.warm_up not in names:
        place = _place(text, ("serving", "warm_up"))
        faults.append(problem(place, "warm_up_unknown", found=serving.warm_up, options=names))
    if serving.appearance == "with" and serving.masking != "none":
        place = _place(text, ("serving", "appearance"))
        faults.append(problem(place, "appearance_masked", masking=serving.masking))
    if serving.open_flight and METHODS[settings.method].compares:
        place = _place(text, ("serving", "open_flight"))
        faults.append(problem(place, "open_flight_set", method=settings.method))
    faults += _alone(settings, bottles, text)
    if settings.language not in languages():
        place = _place(text, ("language",))
        known = languages()
        faults.append(problem(place, "language", found=settings.language, options=known))
    told = {word for one in bottles for word in (one.name, one.fraction, one.lot, one.tank)}
    for secret in sorted(told):
        for field in ("name", "title"):
            shown = getattr(settings, field)
            if _tells(shown, secret):
                faults.append(problem(_place(text, (field,)), "tells", field=field, word=secret))
    return faults


def _alone(settings: Settings, bottles: tuple[Bottle, ...], text: str) -> list[Problem]:
    """Find what one person cannot keep from their own eyes and hands."""
    if not settings.serving.alone:
        return []
    place = _place(text, ("serving", "alone"))
    faults = []
    if METHODS[settings.method].compares:
        faults.append(problem(place, "alone_set", method=settings.method))
    samples = sum(bottle.use == "sample" for bottle in bottles)
    if samples < 2 or settings.serving.flight_size < 2:
        faults.append(problem(place, "alone_one"))
    if settings.serving.appearance == "flight":
        faults.append(problem(place, "alone_look"))
    at_end = [one for one in settings.questions.options if one in AFTER_ALL]
    if at_end:
        faults.append(problem(place, "alone_end", options=at_end))
    return faults


def _timed_faults(settings: Settings, scorecard: Scorecard, text: str) -> list[Problem]:
    """Find what of the timed part cannot be asked."""
    if settings.timed is None:
        return []
    if METHODS[settings.method].compares:
        return [problem(_place(text, ("timed", "")), "timed_set", method=settings.method)]
    _, wrong = timed_part(**settings.timed.model_dump(), scorecard=scorecard)
    limits = {"least": FEWEST_WORDS, "most": MOST_WORDS}
    return [
        problem(
            _place(text, ("timed", str(one.found) or "words")),
            f"timed_{one.kind}",
            found=one.found,
            **limits,
        )
        for one in wrong
    ]


def _unwise(
    method: Method,
    settings: Settings,
    bottles: tuple[Bottle, ...],
    assessors: tuple[Assessor, ...],
    scorecard: Scorecard,
) -> list[Problem]:
    """Warn of what is allowed but weakens what can be said afterwards."""
    cautions = []
    samples = [bottle for bottle in bottles if bottle.use == "sample"]
    cloudy = {bottle.looks_cloudy for bottle in samples}
    if len(cloudy) == 2 and settings.serving.masking == "none" and not method.compares:
        cautions.append(problem(SETTINGS, "seen_haze"))
    if settings.serving.replicates == 1 and not method.compares:
        cautions.append(problem(SETTINGS, "one_replicate"))
    if len(samples) == 1:
        cautions.append(problem("bottles", "one_sample"))
    trained = [one for one in assessors if one.role in ("trained", "expert", "student")]
    hedonic = [question.key for question in scorecard if question.hedonic]
    if hedonic and trained:
        cautions.append(problem(SETTINGS, "liking_and_profile", questions=list(hedonic)))
    if len(assessors) < FEW_ASSESSORS:
        cautions.append(problem("assessors", "few_assessors", n=len(assessors)))
    return cautions
