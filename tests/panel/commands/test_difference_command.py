"""``kikichoko difference`` and ``kikichoko size`` as they are called."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from kikichoko.analysis.difference import difference, similarity
from kikichoko.panel.cli import kikichoko


@pytest.fixture
def run():
    def call(line: str, code: int = 0):
        done = CliRunner().invoke(kikichoko, line.split(), catch_exceptions=False)
        assert done.exit_code == code, done.output
        return done

    return call


@pytest.fixture
def table(tmp_path):
    def write(text: str, name: str = "answers.csv") -> str:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def test_counts_give_the_result_as_json(run):
    found = json.loads(run("difference triangle --right 14/30 --json").stdout)
    assert found == difference("triangle", 14, 30).to_dict()
    line = "difference triangle --right 21/66 --similarity --pd 0.2 --beta 0.05 --json"
    expected = similarity("triangle", 21, 66, pd=0.2, beta=0.05).to_dict()
    assert json.loads(run(line).stdout) == expected


def test_similarity_needs_what_matters_stated(run):
    said = run("difference triangle --right 5/24 --similarity", 2)
    assert "There is no default" in said.output


def test_five_tasters(run):
    said = run("difference triangle --right 1/5 --similarity --pd 0.3 --beta 0.05")
    assert "too small to show similarity" in said.stdout


def test_table_of_one_answer_each(run, table):
    path = table("assessor,correct\n1,1\n2,0\n3,1\n4,1\n5,\n")
    found = json.loads(run(f"difference triangle {path} --json").stdout)
    assert (found["correct"], found["n"]) == (3, 4)


def test_several_rows_of_an_assessor_are_replicates(run, table):
    path = table("taster;ok\na;1\na;1\na;1\nb;0\nb;1\nb;0\nc;1\nc;1\nc;0\n")
    line = f"difference triangle {path} --assessor taster --answer ok --json"
    found = json.loads(run(line).stdout)
    assert (found["assessors"], found["n"], found["correct"]) == (3, 9, 6)
    assert 0 <= found["gamma"] < 1


def test_pairs(run, table):
    found = json.loads(run("difference paired --chosen 21/9 --ties 4 --json").stdout)
    assert found["p"] == pytest.approx(0.042774, abs=1e-6)
    path = table("assessor,chosen\n1,dry\n2,dry\n3,none\n4,sweet\n5,dry\n")
    found = json.loads(run(f"difference paired {path} --json").stdout)
    assert (found["first"], found["second"], found["ties"]) == (3, 1, 1)
    assert found["names"] == ["dry", "sweet"]


def test_yes_and_no(run, table):
    line = "difference a-not-a --hits 30/50 --false-alarms 20/50 --json"
    assert json.loads(run(line).stdout)["d_prime"] == pytest.approx(0.506694, abs=1e-6)
    line = "difference same-different --like 70/100 --unlike 45/100 --json"
    assert json.loads(run(line).stdout)["tau"] == pytest.approx(1.465738, abs=1e-6)
    path = table("assessor,served,answer\n1,A,A\n2,not A,not A\n3,A,A\n4,not A,A\n")
    found = json.loads(run(f"difference a-not-a {path} --json").stdout)
    assert (found["hits"], found["n_a"], found["false_alarms"]) == (2, 2, 1)
    rows = "".join(f"{n},same,same\n{n},different,different\n" for n in range(6))
    path = table("assessor,served,answer\n" + rows)
    found = json.loads(run(f"difference same-different {path} --json").stdout)
    assert found["method"] == "within assessors"
    assert found["p"] == pytest.approx(1 / 2**6)


def test_stopping_early(run, table, tmp_path):
    path = table("assessor,correct\n" + "".join(f"{n},1\n" for n in range(6)))
    figure = tmp_path / "course.png"
    line = f"difference triangle {path} --stop-early --pd 0.5 --beta 0.05 --figure {figure}"
    said = run(line)
    assert "after 5 answers" in said.stdout
    assert figure.stat().st_size > 5000


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("difference triangle", "Give the counts"),
        ("difference a-not-a --hits 3/5", "--false-alarms"),
        ("difference same-different", "--like"),
        ("difference triangle --right 14of30", "14/30"),
        ("difference triangle --right 9/12 --stop-early", "order of the answers"),
        ("difference square --right 9/12", "triangle"),
        ("difference paired --chosen 5/3 --similarity", "known right answer"),
        ("size triangle", "State the difference"),
        ("size profile", "State the variances"),
    ],
)
def test_wrong_usage_is_told(run, line: str, words: str):
    assert words in run(line, 2).output


def test_refusals_are_told(run, table):
    assert "cannot be more than" in run("difference triangle --right 31/30", 1).output
    path = table("assessor,correct\n1,yes\n,1\n2,0\n")
    assert "the column 'assessor' is empty" in run(f"difference triangle {path}", 1).output
    path = table("assessor,correct\n1,yes\n2,0\n")
    assert "Row 1, column 'correct': 'yes'" in run(f"difference triangle {path}", 1).output
    path = table("assessor,served,answer\n1,B,A\n2,not A,A\n")
    assert "'B' is neither 'A' nor 'not A'" in run(f"difference a-not-a {path}", 1).output
    path = table("assessor,chosen\n1,x\n2,y\n3,z\n")
    assert "more than two samples" in run(f"difference paired {path}", 1).output


# --- size ------------------------------------------------------------------------------------
def test_size_of_a_test(run, tmp_path):
    figure = tmp_path / "curve.pdf"
    said = run(f"size triangle --pd 0.3 --bottles 1 --figure {figure}")
    assert "40 assessors" in said.stdout
    assert "does not suffice" in said.stdout
    assert figure.read_bytes().startswith(b"%PDF")
    found = json.loads(run("size triangle --pd 0.3 --similarity --json").stdout)
    assert (found["purpose"], found["alpha"], found["beta"]) == ("similarity", 0.2, 0.05)


def test_size_of_a_profile(run, table):
    line = "size profile --interaction 0.25 --residual 0.5 --difference 1 --bottles 1 --json"
    found = json.loads(run(line).stdout)
    # smallest difference of 8 assessors x 2 x 4 samples, computed apart from this project
    assert found["found"]["difference"] == pytest.approx(1.0388, abs=1e-4)
    rows = "".join(
        f"{a},{s},{r},{5 + s + 0.3 * a + 0.4 * ((a * s + r) % 3)}\n"
        for a in range(6)
        for s in range(3)
        for r in (1, 2)
    )
    path = table("assessor,sample,replicate,score\n" + rows)
    found = json.loads(run(f"size profile --earlier {path} --samples 3 --json").stdout)
    assert found["found"]["samples"] == 3
    assert found["found"]["residual"] > 0


def test_size_of_intervals(run, tmp_path):
    for what in ("agreement", "fault"):
        figure = tmp_path / f"{what}.svg"
        found = json.loads(run(f"size {what} --assessors 8 --figure {figure} --json").stdout)
        assert found["interval"]["low"] < found["expected"] < found["interval"]["high"]
        assert figure.exists()


def test_figures_of_other_kinds_are_refused(run, tmp_path):
    assert ".png" in run(f"size triangle --pd 0.3 --figure {tmp_path / 'curve.bmp'}", 1).output
    assert (
        "no folder"
        in run(f"size triangle --pd 0.3 --figure {tmp_path / 'none' / 'curve.png'}", 1).output
    )


def test_help_has_an_example(run):
    for word in ("difference", "size"):
        assert "Example: kikichoko" in run(f"{word} --help").output
