"""A few words as a picture."""

import io

from PIL import Image, ImageDraw, ImageFont

from inventory.paper.document import FONTS, known

SIZE, EDGE = 56, 24  # points


def written(words: str) -> bytes:
    """One line of words, dark on white, as a PNG."""
    font = ImageFont.truetype(FONTS / "DejaVuSans.ttf", SIZE)
    words = known(words)
    width = round(font.getlength(words)) + 2 * EDGE
    image = Image.new("RGB", (width, SIZE + 2 * EDGE), "white")
    ImageDraw.Draw(image).text((EDGE, EDGE // 2), words, font=font, fill="#10262a")
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()
