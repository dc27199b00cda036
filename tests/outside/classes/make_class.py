"""Draw the cups of one class from its recipe (standard library only).

Usage: python make_class.py classes.toml C03 out_dir [seed]

Writes out_dir/cups.csv (class,session,person,role,bottle,label,cup,attribute,score) and
out_dir/ticks.csv (class,session,person,role,bottle,label,cup,fault_ticked,spiked).
An empty score was not given (absent, joined later, no repeat, sheet half filled).
The drawing order is fixed: sessions, people in the order of the recipe, bottles, cups, attributes.
"""

import csv
import random
import sys
import tomllib
from pathlib import Path


def attends(person, session):
    return session >= person.get("joins", 1) and session not in person.get("absent", [])


def at_session(value, session):
    """A number, or a list with one number a session."""
    return value[session - 1] if isinstance(value, list) else value


def draw(data, name, seed=None):
    recipe = data["class"][name]
    base = data["base"]
    attributes, centre = base["attributes"], base["centre"]
    rng = random.Random(recipe["seed"] if seed is None else seed)
    people = [dict(p, role="expert") for p in recipe["experts"]]
    people += [dict(p, role="student") for p in recipe["students"]]
    n_bottles = len(base["sets"][recipe["sets"][0]]["labels"])
    for p in people:  # stable opinions: one number a bottle set, bottle, attribute
        sd = p.get("opinion_sd", 0.4)
        p["opinion"] = {
            (s, b, a): rng.gauss(0, sd)
            for s in sorted(set(recipe["sets"]))
            for b in range(n_bottles)
            for a in attributes
        }
    cups, ticks = [], []
    for session in range(1, recipe["sessions"] + 1):
        set_name = recipe["sets"][session - 1]
        bottles = base["sets"][set_name]
        spiked = recipe.get("spiked", {}).get(str(session))  # bottle number 1..6 or none
        for p in people:
            for b in range(n_bottles):
                source = b
                swap = p.get("swaps", {}).get(str(session))  # the two bottles mixed up
                if swap and b + 1 in swap:
                    source = swap[1] - 1 if b + 1 == swap[0] else swap[0] - 1
                for cup in range(1, recipe["cups"] + 1):
                    for a in attributes:
                        truth = bottles[a][source]
                        if spiked == b + 1:
                            truth += base["spike_shift"].get(a, 0.0)
                        gain = at_session(p.get("gain", 1.0), session)
                        gain = at_session(p.get("gain_on", {}).get(a, gain), session)
                        y = centre + at_session(p.get("level", 0.0), session)
                        y += gain * (truth - centre) + p["opinion"][set_name, source, a]
                        y += p.get("shift_on", {}).get(a, 0.0)
                        y += rng.gauss(0, at_session(p.get("noise", 0.6), session))
                        if "always" in p:
                            y = p["always"]
                        given = attends(p, session) and cup <= p.get("cups", recipe["cups"])
                        given = given and rng.random() >= p.get("blank", 0.0)
                        score = f"{min(10.0, max(0.0, y)):.1f}" if given else ""
                        label = bottles["labels"][b]
                        row = [name, session, p["name"], p["role"], b + 1, label, cup, a, score]
                        cups.append(row)
                    is_spiked = spiked == b + 1
                    chance = at_session(
                        p.get("hit", 0.8) if is_spiked else p.get("false_alarm", 0.03), session
                    )
                    u = rng.random()
                    here = attends(p, session) and cup <= p.get("cups", recipe["cups"])
                    ticked = int(u < chance) if here else ""
                    row = [name, session, p["name"], p["role"], b + 1, bottles["labels"][b], cup]
                    ticks.append([*row, ticked, int(is_spiked)])
    return cups, ticks


def main():
    path, name, out = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3])
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    if "base" not in data:  # the sealed recipes share the base of classes.toml
        root = Path(__file__).with_name("classes.toml")
        data["base"] = tomllib.loads(root.read_text(encoding="utf-8"))["base"]
    cups, ticks = draw(data, name, int(sys.argv[4]) if len(sys.argv) > 4 else None)
    out.mkdir(parents=True, exist_ok=True)
    head = ["class", "session", "person", "role", "bottle", "label", "cup"]
    for file, tail, rows in (
        ("cups.csv", ["attribute", "score"], cups),
        ("ticks.csv", ["fault_ticked", "spiked"], ticks),
    ):
        with (out / file).open("w", newline="", encoding="utf-8") as f:
            writer = csv.writer(f, lineterminator="\n")
            writer.writerow([*head, *tail])
            writer.writerows(rows)


if __name__ == "__main__":
    main()
