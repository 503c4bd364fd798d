"""The pictures in README.md, taken of the demo course: ``python -m tests.screenshots``.

The demo is loaded into a database that is thrown away, served, and looked at with a phone and at a desk. The names of
the files stay the same; what is on them moves with the date, because the demo ends at the moment it is loaded.
"""

from __future__ import annotations

import io
import os
import secrets
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from PIL import Image

from tests.pg import free_port

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "tests" / "pictures"
DAYS = "32"
HEAVIEST = 120_000  # bytes of one picture
COLOURS = 64
PATIENCE_S = 60


def surroundings(folder: Path) -> dict[str, str]:
    """Return the environment of a demo installation that lives in ``folder``."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LINEWORTHY_")}
    return kept | {
        "LINEWORTHY_DEMO": "true",
        "LINEWORTHY_HTTPS": "false",
        "LINEWORTHY_HOSTS": "127.0.0.1",
        "LINEWORTHY_SECRET_KEY": secrets.token_urlsafe(50),
        "LINEWORTHY_DATA_DIR": str(folder),
        "DATABASE_URL": f"sqlite:///{folder}/pictures.sqlite3",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }


def manage(env: dict[str, str], *arguments: str) -> None:
    subprocess.run([sys.executable, "manage.py", *arguments], cwd=ROOT, env=env, check=True, stdout=subprocess.DEVNULL)


@contextmanager
def served(env: dict[str, str]) -> Iterator[str]:
    """Serve the installation as ``make demo`` does and yield its address."""
    address = f"127.0.0.1:{free_port()}"
    server = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", "config.wsgi", "--bind", address, "--threads", "2", "--no-control-socket",
         "--log-level", "warning"], cwd=ROOT, env=env,
    )  # fmt: skip
    try:
        for _ in range(PATIENCE_S * 5):
            try:
                urllib.request.urlopen(f"http://{address}/account/login/", timeout=5).close()
                break
            except OSError:
                time.sleep(0.2)
        yield f"http://{address}"
    finally:
        server.terminate()
        server.wait()


def keep(raw: bytes, name: str) -> Path:
    """Store a picture with few colours, which pages of text and shapes do with, so that a README loads quickly."""
    PICTURES.mkdir(exist_ok=True)
    path = PICTURES / name
    image = Image.open(io.BytesIO(raw)).convert("RGB")
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(path, "PNG", optimize=True)
    size = path.stat().st_size
    if size > HEAVIEST:
        raise SystemExit(f"{path.name} has {size} bytes, more than {HEAVIEST}.")
    print(f"{path.relative_to(ROOT)}: {image.width} x {image.height}, {size // 1000} kB")
    return path


def log_in(context: Any, address: str, email: str, word: str) -> Any:
    page = context.new_page()
    page.goto(f"{address}/account/login/")
    page.locator("[name=login]").fill(email)
    page.locator("[name=password]").fill(word)
    page.locator("main button[type=submit]").click()
    page.wait_for_url(lambda url: "login" not in url)
    return page


def take(address: str) -> None:
    """Look at the pages and keep the pictures."""
    from playwright.sync_api import sync_playwright

    from courses.models import Course, Place
    from inspections.demo import course as plan
    from inspections.models import SignOff
    from tests.conftest import BROWSER_FLAGS, DESK, PHONE, find_browser

    course = Course.objects.get()
    up = f"{address}/course/{course.pk}"
    email = {role: address_ for role, address_, _name in reversed(plan.PEOPLE)}
    line = Place.objects.lines().filter(course=course).order_by("number")[5]
    signed = SignOff.objects.filter(day__course=course).order_by("-seq").first()
    assert signed is not None, "the demo signs every day but the last"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=BROWSER_FLAGS)
        phone = {**PHONE, "device_scale_factor": 1.5}
        page = log_in(browser.new_context(**phone), address, email["manager"], plan.PASSWORD)
        page.goto(f"{up}/")
        keep(page.screenshot(), "board-phone.png")
        page = log_in(browser.new_context(**phone), address, email["technician"], plan.PASSWORD)
        page.goto(f"{up}/sheet/{line.pk}/landing/")
        begin(page)
        keep(page.screenshot(), "sheet-phone.png")
        page = log_in(browser.new_context(**DESK), address, email["auditor"], plan.PASSWORD)
        page.goto(f"{up}/history/")
        keep(page.screenshot(), "history-desk.png")
        paper = signed.papers.filter(kind="day_sheet").order_by("-seq").first()
        assert paper is not None, "the demo draws a day sheet for every day"
        keep(first_page(page.request.get(f"{up}/paper/{paper.pk}/").body()), "day-sheet.png")
        browser.close()


def begin(page: Any) -> None:
    """Answer the first items of a sheet, so that the picture shows what the server says of them."""
    items = page.locator("fieldset.item")
    for index in range(3):
        item = items.nth(index)
        field = item.locator("input[type=text]")
        if field.count():
            field.fill("0")
            field.press("Enter")
        elif item.locator("input[type=radio]").count():
            item.locator("label:has(input[value=sound])").tap()
        item.locator("[data-answer] .mark").wait_for()
    items.first.evaluate("item => item.scrollIntoView({block: 'start'})")


def first_page(pdf: bytes) -> bytes:
    """Return the first page of a PDF as a PNG, drawn by pdftoppm (poppler)."""
    command = ["pdftoppm", "-png", "-singlefile", "-r", "80", "-"]
    return subprocess.run(command, input=pdf, check=True, capture_output=True).stdout


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="lineworthy-pictures-") as name:
        env = surroundings(Path(name))
        os.environ.clear()
        os.environ.update(env | {"DJANGO_ALLOW_ASYNC_UNSAFE": "true"})
        manage(env, "migrate", "--verbosity", "0")
        manage(env, "createcachetable", "--verbosity", "0")
        manage(env, "collectstatic", "--noinput", "--verbosity", "0")
        manage(env, "load_demo", "--days", DAYS)
        import django

        django.setup()
        with served(env) as address:
            take(address)
    return 0


if __name__ == "__main__":
    sys.exit(main())
