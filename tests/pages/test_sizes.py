"""No style makes text smaller than 16 px, a target lower than 48 px, or the number of the moment lower than 64 px."""

import re
from pathlib import Path

STYLES = Path("service/pages/static")
# Read on paper, or another project's own page under ours.
OTHERS = {"print.css", "documentation.css"}
_RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")


def rules() -> list[tuple[str, str, str]]:
    """File, selector, declarations; rules inside of a media query as well."""
    found = []
    for file in sorted(STYLES.glob("*.css")):
        if file.name not in OTHERS:
            text = re.sub(r"/\*.*?\*/", "", file.read_text("utf-8"), flags=re.S)
            found += [(file.name, " ".join(s.split()), body) for s, body in _RULE.findall(text)]
    return found


def test_no_text_is_smaller_than_16_px_and_the_number_not_than_64() -> None:
    read, numbers = 0, []
    for file, selector, body in rules():
        # What is drawn in an SVG grows with it.
        if ".lie text" in selector:
            continue
        for size in re.findall(r"font(?:-size)?:[^;]*?(\d+(?:\.\d+)?)px", body):
            read += 1
            assert float(size) >= 16, (file, selector)
            if "moment" in selector and "span" in selector:
                numbers.append(float(size))
        for size in re.findall(r"font-size:([^;]*)", body):
            assert "em" not in size or "max(16px" in size, (file, selector)
    assert read > 30
    assert len(numbers) == 3
    assert min(numbers) >= 64


def test_what_is_tapped_is_48_px_high_and_the_primary_one_64() -> None:
    least = {}
    for _, selector, body in rules():
        for one in selector.split(","):
            if height := re.search(r"min-height: (\d+)px", body):
                least.setdefault(one.strip(), []).append(int(height[1]))
    assert min(least[".button"]) >= 48
    assert min(least[".button.primary"]) >= 64
    tapped = [".button", "input", "select", "textarea", "summary", ".choice label", ".tick", ".rows a", ".top a"]
    tapped += [".someone button"]
    assert [one for one in tapped if min(least[one]) < 48] == []
