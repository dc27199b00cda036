"""The pictures of the desk: a new user's path, walked in Debian's Chromium, headless.

    python docs/make_screens.py [PACE]

From an empty folder to the sheets, the telephones and what came back, by an invented session of
three fractions. With a pace (seconds before each touch; a letter takes a tenth of it) it walks as
a person does and tells the times. Each picture bears the digest of what it was made of: the pages'
templates, style, script and words, the list of commands also their helps. `tests/test_pages.py`
fails when one was made of others.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
PICTURES = Path(__file__).parent / "pictures"
NAMES = ("desk_bottles", "desk_plan", "desk_phones", "desk_commands", "desk_small")
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update")  # fmt: skip
BOTTLES = (("free-run", "early", "16.8", "3", "1.6"), ("clear", "middle", "16.9", "2", "1.7"),
           ("cloudy", "late", "17.1", "-1", "1.9"))  # fmt: skip


def digest(name: str, root: Path = ROOT) -> str:
    """Return what stands for the templates, style, script and words of a picture's page.

    Words of the command line that stand on it (faults at their cells) are not in it.
    """
    desk, words = root / "panel/desk", root / "panel/words/en"
    parts = [*sorted((desk / "pages").iterdir()), desk / "desk.css", desk / "desk.js"]
    made = [path.read_bytes() for path in (*parts, words / "desk.toml")]
    if name == "desk_commands":
        told = (tomllib.loads(path.read_text("utf-8")) for path in sorted(words.glob("*.toml")))
        made += [str(topic.get("help", "")).encode() for topic in told]
    return hashlib.sha256(b"\0".join(made)).hexdigest()[:16]


def stale_screens() -> Iterator[str]:
    """Name the pictures that are lacking, or were made of other pages."""
    from PIL import Image

    for name in NAMES:
        path = PICTURES / f"{name}.png"
        of = ""
        if path.is_file():
            with Image.open(path) as picture:
                of = picture.info.get("of", "")
        if of != digest(name):
            yield path.name


def keep(name: str, taken: bytes) -> None:
    """Write a picture with few colours, and what it was made of."""
    import io

    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    told = PngInfo()
    told.add_text("of", digest(name))
    few = Image.open(io.BytesIO(taken)).convert("RGB").quantize(64)
    few.save(PICTURES / f"{name}.png", pnginfo=told, optimize=True)


def with_own_face(folder: Path) -> dict[str, str]:
    """Let a browser find the shipped face, whatever the machine has; return its variables."""
    there = folder / "data"
    there.mkdir()
    (there / "fonts").symlink_to(ROOT / "forms/fonts")
    return {**os.environ, "XDG_DATA_HOME": str(there)}


def main(pace: float) -> None:
    """Walk the path."""
    from playwright.sync_api import Page, expect, sync_playwright

    room = Path(tempfile.mkdtemp())
    shelf = room / "tastings"
    began = time.perf_counter()
    desk = subprocess.Popen(
        [Path(sys.executable).with_name("kikichoko"), "desk", "--no-browser", shelf],
        stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    line = desk.stderr.readline() if desk.stderr else ""
    found = re.search(r"http://\S+", line)
    if found is None:
        raise SystemExit(line)

    def tell(what: str) -> None:
        print(f"{time.perf_counter() - began:6.1f} s  {what}", flush=True)  # noqa: T201

    def touch(name: str, role: str = "button") -> None:
        time.sleep(pace)
        page.get_by_role(role, name=name, exact=True).first.click()  # type: ignore[arg-type]

    def type_in(label: str, text: str) -> None:
        time.sleep(pace / 2)
        place = page.get_by_label(label, exact=True)
        place.fill("")
        place.press_sequentially(text, delay=100 * pace)

    def done(words: str) -> None:
        expect(page.locator("#told")).to_contain_text(words)
        tell(words)

    def go(step: str) -> None:
        time.sleep(pace)
        page.get_by_role("navigation").get_by_role("link", name=step, exact=True).click()
        expect(page.get_by_role("heading", level=1)).to_have_text(step)

    expect.set_options(timeout=120_000)
    with sync_playwright() as driver:
        program = shutil.which("chromium")
        browser = driver.chromium.launch(
            executable_path=program, args=list(FLAGS), env=with_own_face(room)
        )
        size = {"width": 1180, "height": 820}
        context = browser.new_context(viewport=size, locale="en-GB", color_scheme="light")
        page: Page = context.new_page()
        page.set_default_timeout(120_000)
        page.goto(found[0])
        tell("the desk is open")
        touch("New session", "link")
        type_in("Folder", "three-fractions")
        type_in("Heading of the sheets", "Tasting of the brewers")
        type_in("What do you want to decide?", "Which fraction is bottled apart?")
        page.get_by_label("Card").select_option("brewery")
        touch("Make the session")
        done("The session is made")
        for number, (name, fraction, abv, meter, acidity) in enumerate(BOTTLES, start=2):
            typed = {"bottle": name, "fraction": fraction, "abv": abv, "meter_value": meter,
                     "acidity": acidity + "x" * (number == 3), "available": "3"}  # fmt: skip
            for column, text in typed.items():
                type_in(f"{column}, line {number}", text)
        touch("Save")
        done("1 fault")
        page.get_by_label("acidity, line 3", exact=True).scroll_into_view_if_needed()
        keep("desk_bottles", page.screenshot())
        type_in("acidity, line 3", "1.7")
        touch("Save")
        done("Saved.")
        go("People")
        touch("Save")
        done("Saved.")
        go("Plan")
        keep("desk_plan", page.screenshot())
        touch("Make the plan")
        done("Planned.")
        touch("Write the sheets")
        done("The sheets are written.")
        link = page.get_by_role("link", name="All sheets, to print").get_attribute("href") or ""
        own = page.url.partition("?")[0].removesuffix("sheets")
        if not page.request.get(own + link).body().startswith(b"%PDF"):
            raise SystemExit("no sheets")
        tell("the first sheet can be printed")
        go("Telephones")
        page.get_by_label("on this machine only, to try").check()
        touch("Start the table")
        done("The table is served.")
        page.locator(".seat summary").first.click()
        keep("desk_phones", page.screenshot(full_page=True))
        touch("Stop the table")
        done("The table is stopped.")
        touch("All commands", "link")
        keep("desk_commands", page.screenshot())
        small = browser.new_context(
            viewport={"width": 390, "height": 844}, locale="en-GB", color_scheme="dark",
            storage_state=context.storage_state(),
        )  # fmt: skip
        page = small.new_page()
        page.goto(own + "returns")
        keep("desk_small", page.screenshot())
        browser.close()
    desk.terminate()
    desk.wait()
    shutil.rmtree(room)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 0.0)
