"""QR codes as SVG."""

import segno


def qr_svg(text: str) -> str:
    """A QR code (ISO/IEC 18004, error correction M or better) as an SVG element to stand within a page.

    Dark on white whatever the page's colours: readers need the light border.  No inline style.
    """
    code = segno.make(text, error="m", micro=False)
    return str(
        code.svg_inline(
            scale=1, border=4, dark="#000", light="#fff", omitsize=True, svgclass="qr", lineclass=None
        )
    )
