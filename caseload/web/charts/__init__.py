"""Charts of waits, drawn as SVG by joining escaped strings; `caseload.web.wait_charts` is the way in."""
