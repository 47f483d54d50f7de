"""The pictures of README, taken anew from a running planner with its demo, by day and by night.

    make start
    python -m tests.pictures [http://127.0.0.1:8000] [FOLDER]

Each is what a role of the demo sees at 1280 pixels. A plan is made for the one of Fill; nothing else is changed.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from shutil import which
from typing import Final, NamedTuple

from playwright.sync_api import Browser, Page, sync_playwright

FOLDER: Final = "fixtures/pictures"
SIZE: Final = {"width": 1280, "height": 800}
PASSWORD: Final = "seven soft bandages"
"""It stands on the sign-in page of the demo."""
PLAN: Final = "main a[href^='/fill/']"
LONGEST_SECONDS: Final = 60


class Picture(NamedTuple):
    """`find` leads from the opened page to what is shown, of which it is one `part` where that is said; `who` is the
    user name."""

    name: str
    who: str
    path: str
    find: Callable[[Page], None] = lambda page: None
    part: str = ""
    schemes: tuple[str, ...] = ("light", "dark")


def first(selector: str) -> Callable[[Page], None]:
    def follow(page: Page) -> None:
        page.locator(selector).first.click()
        page.wait_for_load_state("networkidle")

    return follow


def a_visit(page: Page) -> None:
    """Stitches half out of a wound that is not closed, so that what saving would move stands beside."""
    first("main table a[href^='/episodes/']")(page)
    first("main a[href$='/visit/']")(page)
    page.fill("[name=d1_stitches_out]", "2")
    page.fill("[name=d1_stitches_left]", "2")
    for name, said in (("d1_wound", "not-closed"), ("d1_after", "review")):
        page.locator(f"[name={name}][value={said}]").check()
    page.fill("[name=d1_in_days]", "3")
    page.evaluate("scrollTo(0, 480)")
    page.wait_for_timeout(1500)


def a_plan(page: Page) -> None:
    """The newest plan, asked for now where there is none."""
    if not page.locator(PLAN).count():
        page.locator("main form button").first.click()
    for _ in range(LONGEST_SECONDS):
        if page.locator(PLAN).count():
            break
        page.wait_for_timeout(1000)
        page.goto("/fill/")
    first(PLAN)(page)


def a_plan_sheet(page: Page) -> None:
    first("main table a[href^='/episodes/']")(page)
    first("main a[href$='/plan-sheet/']")(page)


PICTURES: Final = (
    Picture("overdue", "imogen", "/overdue/"),
    Picture("to-book", "maureen", "/to-book/"),
    Picture("diary", "maureen", "/diary/"),
    Picture("fill", "imogen", "/fill/", a_plan),
    Picture("visit", "hanneke", "/caseload/", a_visit),
    Picture("episode", "imogen", "/overdue/", first("main table a[href^='/episodes/']")),
    Picture("notices", "maureen", "/notices/"),
    Picture("waits", "imogen", "/waits/"),
    Picture("need", "imogen", "/need/"),
    Picture("plan-sheet", "imogen", "/overdue/", a_plan_sheet, "article.plan-sheet", ("light",)),
)


def main(address: str = "http://127.0.0.1:8000", folder: str = FOLDER) -> None:
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=which("chromium"), args=["--no-sandbox"])
        for picture in PICTURES:
            for scheme in picture.schemes:
                take(chromium, address, picture, scheme, Path(folder))
        chromium.close()


def take(chromium: Browser, address: str, picture: Picture, scheme: str, folder: Path) -> None:
    page = chromium.new_page(viewport=SIZE, color_scheme=scheme, base_url=address)  # type: ignore[arg-type]
    page.goto("/sign-in/")
    page.fill("[name=username]", picture.who)
    page.fill("[name=password]", PASSWORD)
    page.locator("main button[type=submit]").first.click()
    page.wait_for_load_state("networkidle")
    page.goto(picture.path, wait_until="networkidle")
    picture.find(page)
    shown = page.locator(picture.part) if picture.part else page
    shown.screenshot(path=folder / f"{picture.name}-{scheme}.png")
    page.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
