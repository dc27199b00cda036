"""Turn the recipes of a corpus file into filled sheets and reference facts. Standard library only.

    python3 generate.py corpus.toml OUT            every session -> OUT/<id>/{scores,bottles,assessors,orders}.csv, facts.json
    python3 generate.py corpus.toml OUT --id s11   one session (start of the id is enough)
    python3 generate.py corpus.toml OUT --id s11 --repeat 17   the same recipe with seed + 17 (for rate rules)
    python3 generate.py corpus.toml --check        are the `check` lines of every recipe true of its own sheets?

Everything is drawn from random.Random(seed), attribute by attribute, so that a sheet is the same on every machine.
Latent mark = base + effect[bottle] (stretched round the bottles' mean by the taster's width) + taster's level
+ taster x attribute level + taster x bottle x attribute (interaction) + noise; rounded to step, cut to the scale.
"""
import csv, json, math, random, sys, tomllib
from itertools import product
from pathlib import Path

DEFAULT = {"replicates": 1, "step": 0.5, "lo": 0, "hi": 10, "noise": 0.7, "level_sd": 0.8, "width_sd": 0.1,
           "interaction_sd": 0.25, "words": [], "faults": [], "attributes": [], "tick_base": 0.03, "fault_noise": 0.4,
           "base": {}, "effect": {}, "tick": {}, "fault": {}, "set": [], "swap": [], "missing": {}, "order": "random",
           "taste_by": 3.0, "check": {}, "position_drop": 0.0, "repeats": 1}
BIPOLAR = {"balance": (-2, 2, 1)}  # much too dry ... just right ... much too sweet


def assessors(s):
    out = []
    for g in s["panel"]:
        n = g.get("n", 1)
        for i in range(1, n + 1):
            out.append({**g, "id": g["id"] if n == 1 and "id" in g else f"{g['prefix']}{i}"})
    return out


def draw(session, repeat=0):
    s = {**DEFAULT, **session}
    rng = random.Random(s["seed"] + repeat)
    people, bottles = assessors(s), [b["id"] for b in s["bottles"]]
    reps = range(1, s["replicates"] + 1)
    one = bottles[:]
    rng.shuffle(one)
    orders = {}
    for a, r in product(people, reps):
        o = bottles[:]
        rng.shuffle(o)
        orders[a["id"], r] = one if s["order"] == "same" else o
    style = {b["id"] for b in s["bottles"] if b.get("style")}
    level = {a["id"]: a["level"] if "level" in a else rng.gauss(0, s["level_sd"]) for a in people}
    width = {a["id"]: a["width"] if "width" in a else math.exp(rng.gauss(0, s["width_sd"])) for a in people}
    cell = {}
    for k in s["attributes"]:
        lo, hi, step = BIPOLAR.get(k, (s["lo"], s["hi"], s["step"]))
        mid = s["base"].get(k, 0 if k in BIPOLAR else 5)
        eff = {b: s["effect"].get(b, {}).get(k, 0) for b in bottles}
        centre = sum(eff.values()) / len(eff)
        for a in people:
            i, own = a["id"], rng.gauss(0, s["level_sd"] / 2)
            scale = 0.6 if k in BIPOLAR else 1
            flip = a.get("reversed") is True or (isinstance(a.get("reversed"), list) and k in a["reversed"])
            for b in bottles:
                inter = rng.gauss(0, s["interaction_sd"]) * scale
                for r in reps:
                    e = (eff[b] - centre) * width[i] * (-1 if flip else 1)
                    v = mid + centre + e + (level[i] + own) * (0 if k in BIPOLAR else 1) + inter
                    v += rng.gauss(0, a.get("noise", s["noise"])) * scale
                    if k == "overall" and b in style:
                        v += {"liker": 1, "disliker": -1}.get(a.get("taste"), 0) * s["taste_by"]
                    for z in a.get("bias", []):
                        if z["bottle"] in ("*", b) and z["attribute"] == k:
                            v += z["by"]
                    v -= s["position_drop"] * orders[i, r].index(b)
                    if "constant" in a:
                        v = 0 if k in BIPOLAR else a["constant"]
                    v = min(hi, max(lo, round(v / step) * step))
                    cell[i, b, r, k] = round(v, 3) + 0.0
    for w in s["words"]:
        for a, b, r in product(people, bottles, reps):
            cell[a["id"], b, r, "word_" + w] = float(rng.random() < s["tick"].get(b, {}).get(w, s["tick_base"]))
    for f in s["faults"]:
        for a, b, r in product(people, bottles, reps):
            v = s["fault"].get(b, {}).get(f, 0) * a.get("fault_width", 1)
            v += rng.gauss(0, s["fault_noise"]) if v > 0 else 0
            cell[a["id"], b, r, "fault_" + f] = float(min(3, max(0, round(v))))
    for z in s["set"]:
        for key in cell:
            if all(z.get(n, "*") in ("*", v) for n, v in zip(("assessor", "bottle", "replicate", "attribute"), key)):
                cell[key] = float(z["score"])
    for z in s["swap"]:
        x, y = z["bottles"]
        for k in {key[3] for key in cell}:
            p, q = (z["assessor"], x, z["replicate"], k), (z["assessor"], y, z["replicate"], k)
            cell[p], cell[q] = cell[q], cell[p]
    m, names = s["missing"], ("assessor", "bottle", "replicate", "attribute")
    gone = {(a["id"], b, r) for a, b, r in product(people, bottles, reps) if rng.random() < m.get("sheets", 0)}
    for key in cell:
        if key[:3] in gone or rng.random() < m.get("cells", 0) or any(
                all(z.get(n, "*") in ("*", v) for n, v in zip(names, key)) for z in m.get("list", [])):
            cell[key] = None
    return s, people, bottles, orders, cell


def means(cell, k, bottles, people):
    """One mean over replicates for each taster x bottle; tasters who lack a bottle are left out of comparisons."""
    t = {}
    for a in people:
        row = {}
        for b in bottles:
            v = [x for (i, bb, _, kk), x in cell.items() if i == a["id"] and bb == b and kk == k and x is not None]
            if v:
                row[b] = sum(v) / len(v)
        t[a["id"]] = row
    return t


def permutation_p(rows, bottles, seed=1, draws=1999):
    """Spread of bottle totals, bottles shuffled within each taster (tasters fixed; one mean per bottle each)."""
    full = [[r[b] for b in bottles] for r in rows.values() if len(r) == len(bottles)]
    if len(full) < 2 or len(bottles) < 2:
        return None
    spread = lambda t: sum(sum(c) ** 2 for c in zip(*t))
    rng, seen, hit = random.Random(seed), spread(full), 0
    for _ in range(draws):
        t = [rng.sample(r, len(r)) for r in full]
        hit += spread(t) >= seen - 1e-9
    return (hit + 1) / (draws + 1)


def facts(s, people, bottles, cell):
    out = {"assessors": len(people), "bottles": len(bottles), "replicates": s["replicates"],
           "cells_asked": len(cell), "cells_blank": sum(v is None for v in cell.values()),
           "least_possible_p_if_tasters_are_blocks": None, "attributes": {}}
    if len(people) > 1 and len(bottles) > 1:
        out["least_possible_p_if_tasters_are_blocks"] = 1 / math.factorial(len(bottles)) ** (len(people) - 1)
    for k in sorted({key[3] for key in cell}):
        t = means(cell, k, bottles, people)
        f = {}
        for b in bottles:
            v = [r[b] for r in t.values() if b in r]
            sheets = [x for (_, bb, _, kk), x in cell.items() if bb == b and kk == k and x is not None]
            f[b] = {"tasters": len(v), "sheets": len(sheets), "mean_of_tasters": round(sum(v) / len(v), 3) if v else None,
                    "lowest": min(v, default=None), "highest": max(v, default=None)}
            if k.startswith(("word_", "fault_")):
                f[b]["sheets_above_zero"] = sum(x > 0 for x in sheets)
        p = permutation_p(t, bottles)
        out["attributes"][k] = {"bottle": f, "permutation_p_within_tasters": p}
    return out


def write(d, s, people, orders, cell, f):
    d.mkdir(parents=True, exist_ok=True)
    def w(name, head, rows):
        with open(d / name, "w", newline="") as h:
            c = csv.writer(h, lineterminator="\n")
            c.writerow(head)
            c.writerows(rows)
    w("scores.csv", ["assessor", "sample", "replicate", "attribute", "score"],
      [[*k, "" if v is None else f"{v:g}"] for k, v in cell.items()])
    w("bottles.csv", ["sample", "fraction", "batch", "treatment", "role"],
      [[b["id"], b.get("fraction", ""), b.get("batch", ""), b.get("treatment", ""), b.get("role", "product")] for b in s["bottles"]])
    w("assessors.csv", ["assessor", "role", "taste"], [[a["id"], a["role"], a.get("taste", "")] for a in people])
    w("orders.csv", ["assessor", "replicate", "position", "sample"],
      [[a, r, i, b] for (a, r), o in orders.items() for i, b in enumerate(o, 1)])
    (d / "facts.json").write_text(json.dumps(f, indent=1))


def check(s, f):
    """`check` lines: differ / same = attributes with p below / above 0.05; higher = [attribute, bottle, bottle]."""
    bad, at = [], f["attributes"]
    for k in s["check"].get("differ", []):
        p = at[k]["permutation_p_within_tasters"]
        if p is None or p >= 0.05:
            bad.append(f"{k} should differ, p={p}")
    for k in s["check"].get("same", []):
        p = at[k]["permutation_p_within_tasters"]
        if p is not None and p < 0.05:
            bad.append(f"{k} should not differ, p={p}")
    for k, x, y in s["check"].get("higher", []):
        m = {b: v["mean_of_tasters"] for b, v in at[k]["bottle"].items()}
        if not m[x] > m[y]:
            bad.append(f"{k}: {x} {m[x]} not above {y} {m[y]}")
    for k, b, n in s["check"].get("sheets", []):
        if at[k]["bottle"][b]["sheets_above_zero"] != n:
            bad.append(f"{k} {b}: {at[k]['bottle'][b]['sheets_above_zero']} sheets above zero, said {n}")
    return bad


def main(argv):
    sessions = tomllib.loads(Path(argv[0]).read_text())["session"]
    want = argv[argv.index("--id") + 1] if "--id" in argv else ""
    repeat = int(argv[argv.index("--repeat") + 1]) if "--repeat" in argv else 0
    wrong = 0
    for x in sessions:
        if not x["id"].startswith(want):
            continue
        s, people, bottles, orders, cell = draw(x, repeat)
        f = facts(s, people, bottles, cell)
        if "--check" in argv:
            bad = check(s, f)
            wrong += bool(bad)
            print(x["id"], "ok" if not bad else bad)
        else:
            write(Path(argv[1]) / x["id"], s, people, orders, cell, f)
    return wrong


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
