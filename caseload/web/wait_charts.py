"""Charts of waits as SVG: values in, markup out. They are styled by waits.css alone.

Each says its numbers as a sentence; where there is nothing to draw it is empty, and the page says why.
"""

from caseload.web.charts.curve import curve_chart
from caseload.web.charts.ends import ends_chart
from caseload.web.charts.funnel import funnel_chart, letters
from caseload.web.charts.need import need_chart
from caseload.web.charts.slippage import slippage_chart
from caseload.web.charts.trend import flow_chart, trend_chart

__all__ = [
    "curve_chart", "ends_chart", "flow_chart", "funnel_chart", "letters", "need_chart", "slippage_chart", "trend_chart",
]  # fmt: skip
