"""Charts of waits as a browser lays them out: no words touch, run over the edge or are too small. Rules of our own."""

from base64 import b64encode
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from caseload.waits.figures import Day
from caseload.web.wait_charts import (
    curve_chart,
    ends_chart,
    flow_chart,
    funnel_chart,
    slippage_chart,
    trend_chart,
)
from tests.waits import sample

STATIC = Path(__file__).parents[2] / "caseload/web/static"
CHARTS = (
    curve_chart(sample.summary(), sample.before()),
    curve_chart(sample.summary(median=Day(2, 1, 3), centile_92=Day(8, 7, 9))),
    trend_chart(sample.trend()),
    flow_chart(sample.flow()),
    funnel_chart(sample.funnel(), {"fernhollow": "Fernhollow", "quay-street": "Quay Street"}),
    ends_chart(sample.summary()),
    slippage_chart(sample.slippage()),
)
LARGER = "html { font-size: 150%; }"
FAULTS = """() => [...document.querySelectorAll('svg.plot')].flatMap(plot => {
  const words = [...plot.querySelectorAll('text')].filter(each => each.getClientRects().length)
    .map(each => [each.textContent, each.getBoundingClientRect(), parseFloat(getComputedStyle(each).fontSize)]);
  const over = words.filter(([, box]) => box.left < 0 || box.right > innerWidth).map(([said]) => `${said} runs over`);
  const small = words.filter(([, , size]) => size < 12).map(([said]) => `${said} is small`);
  const apart = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) < 1
    || Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) < a.height * .4;
  const touch = words.flatMap(([said, box], place) => words.slice(place + 1)
    .filter(([, other]) => !apart(box, other)).map(([also]) => `${said} touches ${also}`));
  return [words.length ? '' : 'no words', ...over, ...small, ...touch].filter(Boolean);
})"""


@pytest.mark.parametrize(("width", "style"), [(390, ""), (760, ""), (1280, LARGER)])
def test_no_words_of_a_chart_touch_or_run_over_the_edge(chromium: Browser, width: int, style: str):
    font = b64encode((STATIC / "fonts/sans.woff2").read_bytes()).decode()
    styles = "".join((STATIC / name).read_text() for name in ("app.css", "waits.css"))
    styles = styles.replace("fonts/sans.woff2", f"data:font/woff2;base64,{font}")
    page = chromium.new_page(viewport={"width": width, "height": 900})
    figures = "".join(f"<figure>{chart}</figure>" for chart in CHARTS)
    page.set_content(f"<html lang='en'><style>{styles}{style}</style><main>{figures}</main></html>")
    assert page.locator("svg.plot").count() == len(CHARTS)
    assert page.evaluate("() => document.fonts.ready.then(() => document.fonts.check('16px Caseload Sans'))")
    assert page.evaluate(FAULTS) == []
    page.close()
