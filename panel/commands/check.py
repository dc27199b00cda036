"""``kikichoko check DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, with_folder
from ._table import json_option, show_json

SECTION, RANK = "cli.section_session", 9


@click.command(help=say("check.help"))
@folder_argument
@json_option
def command(folder: Path, *, as_json: bool) -> None:
    """Say whether anything was lost or changed; write nothing."""
    from ..base.errors import NEEDS_A_PERSON
    from ..base.session_log import read_log
    from ..key.session_checks import check
    from ..plan.plan_file import load_open
    from ..plan.sealing import fingerprint
    from ..returns.store import Store

    session = load_session(folder, quiet=True, half_forgotten=True)
    plan = load_open(session)
    language = reader()
    with Store(folder, reading=True) as store:
        found = check(session, plan, store)
    log = read_log(folder)
    needs = [one.what for one in found if one.person]
    told = [one.what for one in found if not one.person]
    if as_json:
        content = {
            "session": session.settings.name,
            "plan": plan.number,
            "fingerprint": fingerprint(plan.sealed) if plan.sealed else None,
            "log": {"entries": len(log.entries), "head": log.head},
            "needs_a_person": [one.to(language) for one in needs],
            "told": [one.to(language) for one in told],
        }
        show_json(content)
    else:
        lines = []
        if plan.sealed:
            mark = fingerprint(plan.sealed)
            lines.append(say("check.plan", language, number=plan.number, mark=mark))
        if log.head:
            mark = fingerprint(log.head)
            lines.append(say("check.head", language, n=len(log.entries), mark=mark))
        lines.append(
            say("check.needs", language, n=len(needs)) if needs else say("check.all_well", language)
        )
        lines += [f"- {one.to(language)}" for one in needs]
        lines += [say("check.told", language)] if told else []
        lines += [f"- {one.to(language)}" for one in told]
        lines.append(say("check.proves_not" if needs else "check.proves", language))
        click.echo(with_folder("\n".join(lines), folder))
    if needs:
        raise SystemExit(NEEDS_A_PERSON)
