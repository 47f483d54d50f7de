"""An address as a square of dots for a telephone's camera, drawn without a style or an image address."""

from django.utils.html import format_html
from django.utils.safestring import SafeString
from qrcode.constants import ERROR_CORRECT_M
from qrcode.main import QRCode

QUIET = 4
"""Light dots around it (ISO/IEC 18004)."""


def qr(address: str) -> SafeString:
    """Dark on light whatever the page is: a camera reads nothing else for certain."""
    code = QRCode(error_correction=ERROR_CORRECT_M, border=QUIET)
    code.add_data(address)
    rows = code.get_matrix()
    dots = "".join(f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark)
    return format_html(
        '<svg viewBox="0 0 {0} {0}" width="232" height="232" role="img" aria-label="The secret as a square of dots">'
        '<path fill="#fff" d="M0 0h{0}v{0}H0z" /><path fill="#000" shape-rendering="crispEdges" d="{1}" /></svg>',
        len(rows),
        dots,
    )
