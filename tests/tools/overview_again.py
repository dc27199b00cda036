"""What the overview says of the demonstration, worked out again: numpy, pandas, statsmodels.

No line of this program is used; see `page_again`.
"""

from __future__ import annotations

import json
from hashlib import sha256

import numpy as np
import pandas as pd
from claims_again import PAIRS
from page_again import BOTTLES, Again, edge, label, plainly, reml, signed, t_limits
from scipy import stats


def gap_of(one: Again, kind: str, name: str, place: int) -> tuple[str, str, float, float, float]:
    """Return higher and lower bottle, their gap and its limits."""
    asked = one.question(kind, name)
    a, b = PAIRS[place]
    gap = round(float(asked.effects[a] - asked.effects[b]), 9)
    half = stats.t.ppf(0.975, asked.df) * asked.se[place]
    if gap < 0:
        return BOTTLES[b], BOTTLES[a], -gap, -gap - half, -gap + half
    return BOTTLES[a], BOTTLES[b], gap, gap - half, gap + half


def going(one: Again, name: str, high: str, low: str) -> str:
    own = (one.wide(name)[high] - one.wide(name)[low]).dropna()
    against = [str(who) for who in own.index[own < 0]]
    if (own > 0).all():
        return f"all {len(own)}"
    named = f", not {', '.join(against)}" if 0 < len(against) <= 3 else ""
    return f"{int((own > 0).sum())} of {len(own)}{named}"


def fragments(one: Again) -> list[str]:
    """Return the sentences' parts with numbers, as the page must write them."""
    said = [f"one budget of error for {_asked(one)} questions"]
    claimed = one.claimed("scale", "balance")
    every = {
        name
        for kind, name in claimed
        if all(
            (one.wide(name)[high] > one.wide(name)[low])[one.wide(name).notna().all(axis=1)].all()
            for high, low in one.pairs_claimed(kind, name)
        )
    }
    seen = {
        (kind, name): [
            int(one.wide(name)[list(pair)].notna().all(axis=1).sum())
            for pair in one.pairs_claimed(kind, name)
        ]
        for kind, name in claimed
        if name in every
    }
    said.append("everybody of the 7")
    said += [
        f"{label(name)} ({min(own)} to {max(own)})"
        for (_, name), own in seen.items()
        if min(own) < max(own)
    ]
    said.append("though not everybody of the 7 did")
    said += _far_off(one)
    for kind, name in claimed:
        if name not in every:
            for place in range(len(PAIRS)):
                high, low, gap, least, most = gap_of(one, kind, name, place)
                if (high, low) in one.pairs_claimed(kind, name):
                    told = going(one, name, high, low)
                    if not told.startswith("all"):
                        said.append(written(name, (high, low), (gap, least, most), told))
    looked = 3 * len(one.scaled)
    said.append(f"Of {looked} gaps looked at about {round(0.05 * looked)} would look so")
    said += _leads(one, claimed)
    said += _order(one)
    said += _steady(one)
    said += _words(one)
    said += _by_person(one)
    said += _still_open(one, {name for _, name in claimed})
    sides = []
    for bottle in BOTTLES:
        own = one.scores[(one.scores["attribute"] == "sweetness_balance")
                         & (one.scores["sample"] == bottle)]["score"]  # fmt: skip
        counts = [int((np.sign(own) == side).sum()) for side in (-1, 0, 1)]
        sides.append(f"{bottle} {counts[0]}, {counts[1]}, {counts[2]} ({len(own)} sheets)")
    said.append("; ".join(sides))
    for row in one.noted.itertuples():
        own = one.everybody[(one.everybody["attribute"] == row.attribute)
                            & (one.everybody["sample"] == row.sample)]  # fmt: skip
        hit = own[own["score"] > 0]
        each = ", ".join(f"{who} {k}" for who, k in hit.groupby("assessor").size().items())
        said.append(f"in {len(hit)} of {len(own)} cups (cups by person: {each}), mean severity "
                    f"{plainly(hit['score'].mean())}")  # fmt: skip
    results = json.loads((one.folder / "report/results.json").read_text("utf-8"))
    for name in ("session.toml", "bottles.csv", "assessors.csv"):
        digest = sha256((one.folder / name).read_bytes()).hexdigest()[:16]
        said.append(f"{name} " + " ".join(digest[at : at + 4] for at in range(0, 16, 4)))
    kept = results["methods"]["sha256"]["answers"][:16]
    said.append("answers " + " ".join(kept[at : at + 4] for at in range(0, 16, 4)))
    return said


def _by_person(one: Again) -> list[str]:
    """Write what stands person by person: ticks, faults, quality, and the whole card."""
    ticks = one.scores[one.scores["attribute"].isin(one.words)]
    ticks = (ticks["score"] > 0).groupby(ticks["assessor"]).sum()
    said = ["Ticks by person: " + ", ".join(f"{who} {k}" for who, k in ticks.items())]
    quality = one.wide("quality")
    mine, rest = quality.loc["E1"], quality.drop("E1").mean()
    said.append(", ".join(f"{b} {plainly(mine[b])} ({plainly(rest[b])})" for b in quality))
    for row in one.noted.itertuples():
        own = one.everybody[(one.everybody["attribute"] == row.attribute)
                            & (one.everybody["sample"] == row.sample)]  # fmt: skip
        worst = own.groupby("assessor")["score"].max()
        hit, others = worst[worst > 0], worst.index[worst <= 0]
        said.append(", ".join(f"{who} {k:g}" for who, k in hit.items())
                    + f"; not {', '.join(others)}")  # fmt: skip
        said.append(f"with {len(hit) - 1} others")
        gap = quality[row.sample] - quality.drop(columns=row.sample).mean(axis=1)
        gap = gap.sort_index()
        for head, some in (("who noted the fault", gap.index.isin(hit.index)),
                           ("who did not", ~gap.index.isin(hit.index))):  # fmt: skip
            told = ", ".join(f"{who} {signed(by)}" for who, by in gap[some].items())
            said.append(f"{head}: {told}")
    cells = [one.wide(name).sub(one.wide(name).mean(axis=1), axis=0) for name in one.lines]
    card = pd.concat([cell.T for cell in cells], ignore_index=True)
    found = {who: card[who].corr(card.drop(columns=who).mean(axis=1)) for who in card}
    order = sorted(found.items())
    return [*said, ", ".join(f"{who} {plainly(r, 2)}" for who, r in order)]


def _still_open(one: Again, claimed: set[str]) -> list[str]:
    """Write how far a gap may go in each attribute that is not claimed."""
    far = {}
    for name in one.scaled:
        kind = "balance" if name == "sweetness_balance" else "scale"
        if name not in claimed:
            ends = [gap_of(one, kind, name, place)[3:] for place in range(3)]
            far[name] = max(abs(end) for both in ends for end in both)
    order = sorted(far.items(), key=lambda each: each[1])
    return [", ".join(f"{label(name)} {plainly(by)}" for name, by in order)]


def clear_gaps(one: Again) -> list[tuple[str, str, str, float, float, float]]:
    """Return the gaps with limits clear of 0 that are not claimed, few going the other way."""
    found = []
    for name in one.scaled:
        kind = "balance" if name == "sweetness_balance" else "scale"
        told = one.pairs_claimed(kind, name) if (kind, name) in one.claimed(kind) else []
        for place in range(3):
            high, low, *sizes = gap_of(one, kind, name, place)
            own = (one.wide(name)[high] - one.wide(name)[low]).dropna()
            if sizes[1] > 0 and 4 * (own < 0).sum() <= len(own) and (high, low) not in told:
                found.append((name, high, low, *sizes))
    return found


def _leads(one: Again, claimed: list[tuple[str, str]]) -> list[str]:
    """Write leads, what else stands clear of 0, and what rests much on one assessor."""
    open_ = [gap for gap in clear_gaps(one) if gap[0] not in {name for _, name in claimed}]
    first = {}
    for gap in open_:
        if gap[0] not in first or gap[3] > first[gap[0]][3]:
            first[gap[0]] = gap
    leads = sorted(first.values(), key=lambda gap: -gap[4] / gap[3])[:6]
    more = [gap for gap in clear_gaps(one) if gap not in first.values()]
    more = sorted(more, key=lambda gap: -gap[4] / gap[3])[:6]
    said = [
        written(name, (high, low), tuple(sizes), going(one, name, high, low))
        for name, high, low, *sizes in [*leads, *more]
    ]
    shown = []
    for name in one.scaled:
        kind = "balance" if name == "sweetness_balance" else "scale"
        if (kind, name) in claimed:
            pairs = one.pairs_claimed(kind, name)
            every = [(name, *gap_of(one, kind, name, place)) for place in range(3)]
            shown += [gap for gap in every if gap[1:3] in pairs]
    against = sum(
        sizes[1] > 0 and 4 * (own < 0).sum() > len(own)
        and not (("balance" if name == "sweetness_balance" else "scale", name) in claimed
                 and (high, low) in one.pairs_claimed(
                     "balance" if name == "sweetness_balance" else "scale", name))
        for name in one.scaled
        for high, low, *sizes in [
            gap_of(one, "balance" if name == "sweetness_balance" else "scale", name, place)
            for place in range(3)
        ]
        for own in [(one.wide(name)[high] - one.wide(name)[low]).dropna()]
    )  # fmt: skip
    said.append(f"go the other way: {against} pairs")
    rests = []
    for name, high, low, by, *_ in [*shown, *leads, *more]:
        own = (one.wide(name)[high] - one.wide(name)[low]).dropna()
        left = {who: own.drop(who).mean() for who in own.index}
        who = min(left, key=left.get)
        if own.mean() - left[who] >= 0.25 * own.mean() > 0:
            rests.append(f"{label(name)}, {high} above {low} ({plainly(by)}; {plainly(left[who])} "
                         f"without {who})")  # fmt: skip
    return said + rests[:6] + _alone(one)


def _alone(one: Again) -> list[str]:
    """Write who sets two bottles three tenths of the scale apart in every tasting, alone.

    By Student's t beside the same person's own repeats, times all places looked at.
    """
    found = []
    looked = 0
    rows = one.scores[one.scores["attribute"].isin(one.lines)]
    tasted = rows.groupby(["assessor", "attribute", "sample"])["score"]
    squares = tasted.apply(lambda own: ((own - own.mean()) ** 2).sum()).groupby(level=0).sum()
    free = (tasted.size() - 1).groupby(level=0).sum()
    wide = rows.pivot_table(
        index=["attribute", "assessor", "replicate"], columns="sample", values="score"
    )
    for a, b in PAIRS:
        gap = (wide[BOTTLES[a]] - wide[BOTTLES[b]]).dropna()
        for name, own in gap.groupby(level="attribute"):
            means = own.groupby(level="assessor").mean()
            for who, mine in own.groupby(level="assessor"):
                mean, rest = means[who], means.drop(who).mean()
                looked += 1
                same = len(mine) > 1 and ((mine > 0).all() or (mine < 0).all())
                if same and abs(mean) >= 3 and abs(rest) <= abs(mean) / 4:
                    high, low = (a, b) if mean > 0 else (b, a)
                    others = signed(np.sign(mean) * rest)
                    told = f"{who}, {label(name)}, {BOTTLES[high]} above {BOTTLES[low]} by "
                    told += f"{plainly(abs(mean))} (the others {others})"
                    own_error = np.sqrt(squares[who] / free[who] * 2 / len(mine))
                    chance = 2 * stats.t.sf(abs(mean) / own_error, free[who])
                    found.append((abs(mean), told, chance, who))
    people = {who for *_, chance, who in found if looked * chance <= 0.01}
    kept = [
        (by, told) for by, told, chance, who in found if who in people and looked * chance <= 0.05
    ]
    return [told for _, told in sorted(kept, key=lambda each: -each[0])[:3]]


def _asked(one: Again) -> int:
    return len(one.scaled) + len(one.words) + len(one.faults) + 2 + 1 + 3 + len(one.scaled)


def written(name: str, ends: tuple[str, str], sizes: tuple[float, ...], told: str) -> str:
    gap, least, most = plainly(sizes[0]), *(edge(one) for one in sizes[1:])
    towards = " towards “much too sweet”" if name == "sweetness_balance" else ""
    return f"{label(name)}{towards}, {ends[0]} above {ends[1]} by {gap} ({least} to {most}; {told})"


def _order(one: Again) -> list[str]:
    wide = one.wide("quality")
    means = wide.mean().sort_values(ascending=False, kind="stable")
    said = [", ".join(f"{name} {plainly(mean)}" for name, mean in means.items())]
    for place in range(3):
        high, low, gap, least, most = gap_of(one, "scale", "quality", place)
        said.append(f"{high} above {low} by {plainly(gap)}, {edge(least)} to {edge(most)}, "
                    f"{going(one, 'quality', high, low)}")  # fmt: skip
    first = wide.eq(wide.max(axis=1), axis=0)
    top = str(means.index[0])
    alone = first.sum(axis=1) == 1
    said.append(f"for {int((first[top] & alone).sum())} of {len(wide)} assessors; otherwise")
    for bottle in BOTTLES:
        who = [str(code) for code in wide.index[first[bottle] & alone]]
        if bottle != top and who:
            said.append(f"{', '.join(who)} put{'s' if len(who) == 1 else ''} {bottle} first")
    said.append(f"{', '.join(map(str, wide.index[~alone]))} have more than one first")
    declared = one.people["style"].isin(["likes", "dislikes"])
    for code in one.people.index[declared].drop("M1", errors="ignore"):
        along = moved = 0
        for place in range(3):
            high, low, *_ = gap_of(one, "scale", "quality", place)
            gaps = (wide[high] - wide[low]).dropna()
            theirs = round(float(gaps.drop(code).mean()), 9)
            along, moved = along + (gaps[code] * theirs > 0), moved + (theirs != 0)
        said.append(f"{code} {along} of {moved}")
    all_of_them = one.everybodys("quality")
    own = all_of_them.loc["M1"]
    best = str(own.idxmax())
    lead = all_of_them[best] - all_of_them.drop(columns=best).mean(axis=1)
    mean, low, high = t_limits(lead.drop("M1"))
    said.append(f"gives {best} {signed(lead['M1'])} against the mean of the other bottles, the 7 "
                f"others {signed(mean)} ({edge(low, signed)} to {edge(high, signed)})")  # fmt: skip
    return said


def steadiness(one: Again) -> pd.DataFrame:
    """Return level, spread, repeats and correlation with the others, by assessor."""
    rows = one.everybody[one.everybody["attribute"].isin(one.lines)]
    told = [name for _, name in one.claimed("scale")]
    found = {}
    for who, own in rows.groupby("assessor"):
        cells = own.pivot_table(index="attribute", columns="sample", values="score")
        parts = [part["score"].to_numpy() for _, part in own.groupby(["attribute", "sample"])]
        parts = [part for part in parts if len(part) > 1]
        within = sum(((part - part.mean()) ** 2).sum() for part in parts)
        within /= sum(len(part) - 1 for part in parts)
        mine, rest = [], []
        for name in told:
            wide = one.everybodys(name)
            centred = wide.sub(wide.mean(axis=1), axis=0)
            both = pd.concat([centred.loc[who], centred.drop(who).mean()], axis=1).dropna()
            mine += list(both.iloc[:, 0])
            rest += list(both.iloc[:, 1])
        found[str(who)] = (own["score"].mean(), cells.std(axis=1).mean(), within**0.5,
                           float(np.corrcoef(mine, rest)[0, 1]))  # fmt: skip
    return pd.DataFrame(found, index=["level", "spread", "repeats", "follows"]).T


def _steady(one: Again) -> list[str]:
    found = steadiness(one)
    order = found.sort_values("repeats", kind="stable")
    ends = [f"{plainly(order['repeats'].iloc[at])}, {order.index[at]}" for at in (0, -1)]
    said = [
        f"scatter by {plainly(found['repeats'].median())} points in the middle",
        f"from {ends[0]}, to {ends[1]}",
    ]
    along = found.sort_index()["follows"]
    said.append(", ".join(f"{who} {plainly(value, 2)}" for who, value in along.items()))
    rows = one.everybody[one.everybody["attribute"].isin(one.lines)]
    by = {}
    for name, own in rows.groupby("attribute"):
        parts = [part["score"].to_numpy() for _, part in own.groupby(["assessor", "sample"])]
        parts = [part for part in parts if len(part) > 1]
        if parts:
            total = sum(((part - part.mean()) ** 2).sum() for part in parts)
            by[name] = (total / sum(len(part) - 1 for part in parts)) ** 0.5
    worst, best = max(by, key=by.get), min(by, key=by.get)
    said += [f"Repeated least: {label(worst)} (standard deviation {plainly(by[worst])}",
             f"most: {label(best)} ({plainly(by[best])})"]  # fmt: skip
    steps = []
    for (who, bottle), own in rows[rows["attribute"] == worst].groupby(["assessor", "sample"]):
        marks = own["score"].tolist()
        if len(marks) > 1 and abs(marks[0] - marks[-1]) >= 2.5:
            told = f"{who} gave {bottle} {marks[0]:g} and then {marks[-1]:g}"
            steps.append((abs(marks[0] - marks[-1]), told))
    said += [told for _, told in sorted(steps, key=lambda step: -step[0])[:2]]
    said += _influence(one)
    return said


def _influence(one: Again) -> list[str]:
    """Return what leaving out one assessor at a time does to the widest gaps."""
    rows = []
    wanted = []
    for kind, name in one.claimed("scale", "balance"):
        pairs = one.pairs_claimed(kind, name)
        means = one.wide(name).mean()
        wanted.append((name, *max(pairs, key=lambda pair: means[pair[0]] - means[pair[1]])))
    best = max((gap_of(one, "scale", "quality", place) for place in range(3)), key=lambda x: x[2])
    own = (one.wide("quality")[best[0]] - one.wide("quality")[best[1]]).dropna()
    if best[3] > 0 and 4 * (own < 0).sum() <= len(own):
        wanted.append(("quality", best[0], best[1]))
    for name, high, low in wanted:
        gap = (one.wide(name)[high] - one.wide(name)[low]).dropna()
        rows += [(name, str(who), gap.mean(), gap.drop(who).mean()) for who in gap.index]
    assert all(left > 0 for *_, left in rows)
    name, who, whole, left = max(rows, key=lambda row: abs(row[3] - row[2]))
    return [
        f"none of the {len(wanted)} widest gaps",
        f"{label(name)}, {plainly(whole)} with everybody and {plainly(left)} without {who}",
    ]


def _words(one: Again) -> list[str]:
    rows = one.scores[one.scores["attribute"].isin(one.words)]
    asked = rows.groupby("sample")[["assessor", "replicate"]].apply(
        lambda x: len(x.drop_duplicates())
    )
    given = rows[rows["score"] > 0]
    shared, alone = [], {}
    for (bottle, name), own in given.groupby(["sample", "attribute"]):
        people, word = own["assessor"].nunique(), label(name).lower()
        of = f"{len(own)} of {asked[bottle]} sheets"
        if people > 1:
            told = f"{bottle} {word} on {of}, from {people} of 7"
            shared.append((len(own), told))
        elif (
            len(given[given["attribute"] == name])
            > 1
            == given.loc[given["attribute"] == name, "assessor"].nunique()
        ):
            alone.setdefault(f"{word} ({own['assessor'].iloc[0]}: ", []).append(f"{bottle} {of}")
    best = [told for _, told in sorted(shared, key=lambda each: -each[0])[:8]]
    more = f"{len(shared) - 8} more stand" if len(shared) > 8 else ""
    return [*best, f"the 8 most frequent: {best[0]}", more,
            *(f"{head}{', '.join(cups)})" for head, cups in alone.items())]  # fmt: skip


def cells(one: Again) -> dict[tuple[str, str, str, str], str]:
    """Return what the cells of the table of assessors must hold."""
    want = {}
    for who, row in steadiness(one).iterrows():
        for head, text in {
            "Level": plainly(row["level"]), "Spread over bottles": plainly(row["spread"]),
            "Own repeats": plainly(row["repeats"]), "With the others": plainly(row["follows"], 2),
        }.items():  # fmt: skip
            want["repeats", "Own repeats", str(who), head] = text
    return want


def _test(one: Again, name: str) -> tuple[float, float, tuple[float, ...]]:
    """Return F, its second degrees of freedom, and the standard deviations of the components.

    Mean squares of a full table; else REML with Satterthwaite's degrees of freedom for several
    contrasts (Fai & Cornelius 1996).
    """
    own = one.scores[one.scores["attribute"] == name]
    size = own.groupby(["assessor", "sample"]).size()
    r = size.iloc[0]
    if len(size) == 21 and (size == r).all():
        wide = one.wide(name)
        cells = wide.to_numpy()
        left = cells - cells.mean(axis=0) - cells.mean(axis=1, keepdims=True) + cells.mean()
        between = r * 7 * cells.mean(axis=0).var(ddof=1)
        across = r * 3 * cells.mean(axis=1).var(ddof=1)
        cross = r * (left**2).sum() / 12
        parts = [part["score"].to_numpy() for _, part in own.groupby(["assessor", "sample"])]
        inner = sum(((part - part.mean()) ** 2).sum() for part in parts) / (21 * (r - 1))
        found = ((across - cross) / (3 * r), (cross - inner) / r, inner)
        return between / cross, 12.0, tuple(max(x, 0.0) ** 0.5 for x in found)
    fixed = (own["sample"].to_numpy()[:, None] == np.array(BOTTLES)).astype(float)
    who = own["assessor"].to_numpy()
    twice = bool((size > 1).any())
    random = [who, *([who + own["sample"].to_numpy()] if twice else [])]
    fit = reml(own["score"].to_numpy(), fixed, *random)
    gaps = np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]])
    phi = gaps @ fit["phi"] @ gaps.T
    beta = gaps @ fit["beta"]
    values, turned = np.linalg.eigh(phi)
    dfs = []
    for value, vector in zip(values, turned.T, strict=True):
        line = vector @ gaps
        slope = np.array([line @ part @ line for part in fit["D"]])
        dfs.append(2 * value**2 / (slope @ fit["W"] @ slope))
    expected = sum(df / (df - 2) for df in dfs)
    theta = np.sqrt(np.clip(fit["theta"], 0, None))
    sds = (theta[0], theta[1] if twice else np.nan, theta[-1])
    return float(beta @ np.linalg.solve(phi, beta)) / 2, 2 * expected / (expected - 2), sds


def _far_off(one: Again) -> list[str]:
    """Write each mean of one person with Holm's p up to 0.05, and what its row and column make."""
    said = []
    for name in one.scaled:
        who, bottle, p = _far(one, name)
        if p > 0.05:
            continue
        wide = one.wide(name)
        left = np.argwhere(wide.notna().to_numpy())
        design = np.hstack([np.eye(7)[left[:, 0]], np.eye(3)[left[:, 1]][:, 1:]])
        beta = np.linalg.lstsq(design, wide.to_numpy()[left[:, 0], left[:, 1]], rcond=None)[0]
        at = wide.index.get_loc(who), wide.columns.get_loc(bottle)
        expected = beta[at[0]] + (beta[7 + at[1] - 1] if at[1] else 0.0)
        said.append(
            f"{who}, {label(name)} of {bottle}, {plainly(wide.loc[who, bottle])} where "
            f"{plainly(expected)} would be expected (the others "
            f"{plainly(wide[bottle].drop(who).mean())} on average; {p_words(p)})"
        )
    return [
        *said,
        f"about 1 of the {len(one.scaled)} attributes looked at would have one by chance",
    ]


def _furthest(one: Again, name: str) -> str:
    """Return the mean of assessor and bottle furthest off, with Holm's p."""
    who, bottle, p = _far(one, name)
    return f"{who}, {bottle} ({p_words(p)})"


def _far(one: Again, name: str) -> tuple[str, str, float]:
    """Return the mean of assessor and bottle furthest off, with Holm's p, by refitting without."""
    wide = one.wide(name)
    cells = wide.to_numpy()
    row, column = np.nonzero(~np.isnan(cells))
    design = np.hstack([np.eye(7)[row], np.eye(3)[column][:, 1:]])
    y = cells[row, column]
    ps = []
    for at in range(len(y)):  # a dummy of its own for each mean in turn
        more = np.column_stack([design, np.arange(len(y)) == at])
        beta = np.linalg.lstsq(more, y, rcond=None)[0]
        left = y - more @ beta
        df = len(y) - more.shape[1]
        se = np.sqrt(left @ left / df * np.linalg.inv(more.T @ more)[-1, -1])
        ps.append(2 * stats.t.sf(abs(beta[-1]) / se, df))
    far = int(np.argmin(ps))
    return str(wide.index[row[far]]), str(wide.columns[column[far]]), min(1, len(y) * min(ps))


def p_words(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.3f}" if p < 0.1 else f"p = {p:.2f}"


def methods_cells(one: Again) -> dict[tuple[str, str, str, str], str]:
    """Return what the cells of the table of tests must hold."""
    want = {}
    for name in one.scaled:
        f, df, sds = _test(one, name)
        key = "methods", "p alone", label(name)
        want[(*key, "F")] = plainly(f, 2)
        want[(*key, "df")] = f"2, {plainly(df).removesuffix('.0')}"
        want[(*key, "p alone")] = p_words(stats.f.sf(f, 2, df))
        want[(*key, "Standard deviations")] = " / ".join(
            "–" if np.isnan(sd) else plainly(sd, 2) for sd in sds
        )
        want[(*key, "Mean furthest off")] = _furthest(one, name)
    return want
