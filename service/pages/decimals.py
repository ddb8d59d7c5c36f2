"""The decimal sign by the browser's language: "13,5" is understood everywhere, and shown where it is usual."""

import re

from flask import Flask, Response, g, has_request_context, request

# Languages that write a decimal comma, and regions of theirs that do not: by the Unicode CLDR, from memory.
_COMMA = (
    " af az be bg bs ca cs da de el es et eu fi fo fr gl hr hu hy id is it ka kk ky lb lt lv mk nb nl nn no pl pt ro ru"
    " sk sl sq sr sv tr uk uz vi "
)
_POINT_IN = " de-CH de-LI it-CH es-MX es-US es-419 es-GT es-HN es-NI es-PA es-PE es-PR es-SV es-DO "
# English as it is written on the continent: a Danish shop's browser often says en-DK.
_COMMA_IN = " en-AT en-BE en-DE en-DK en-FI en-NL en-NO en-SE en-SI en-150 "

_UNIT = r"(?:%|°|(?:kg|mg|g|ml|l|mm|m|µm|min|h|s|K|mbar|bar)\b)"
# A figure of a sentence: before its unit, or before the other end of a range that has one. A lot's number has none.
_FIGURE = re.compile(
    rf"(?<![\w.,:])([-+±]?\d[\d\u202f]*)\.(\d+)(?=[\s\u202f]?{_UNIT}|\sto\s[\d\u202f.,]+[\s\u202f]?{_UNIT})"
)
_TEXT = re.compile(r">[^<]+<")
_FIELD = re.compile(r'(<input[^>]* inputmode="decimal"[^>]* value="-?\d+)\.(\d+")')


def decimal_sign_of(languages: list[str]) -> str:
    """The decimal sign of the first language that a browser asks for.

    >>> decimal_sign_of(["da", "en"]), decimal_sign_of(["en-GB", "da"]), decimal_sign_of(["de-CH"]), decimal_sign_of([])
    (',', '.', '.', '.')
    """
    if not languages:
        return "."
    first = languages[0].replace("_", "-")
    if f" {first} " in _COMMA_IN:
        return ","
    comma = f" {first.partition('-')[0].lower()} " in _COMMA and f" {first} " not in _POINT_IN
    return "," if comma else "."


def decimal_sign() -> str:
    """The decimal sign of whoever looks at the page."""
    if not has_request_context():
        return "."
    if "decimal_sign" not in g:
        g.decimal_sign = decimal_sign_of([language for language, _ in request.accept_languages])
    return str(g.decimal_sign)


def local(text: str) -> str:
    """A figure that was written with a point, with the sign of whoever looks."""
    return text.replace(".", decimal_sign())


def with_commas(page: str) -> str:
    """The figures of a page's sentences and fields with a decimal comma; whatever is no figure stays as it is.

    >>> with_commas('<p>Pour 12.5 g, 3.1 to 3.3 g of lot 26.0914 at 21.5 °C, rev. 1.2</p>')
    '<p>Pour 12,5 g, 3,1 to 3,3 g of lot 26.0914 at 21,5 °C, rev. 1.2</p>'
    >>> with_commas('<input name="total_g" inputmode="decimal" value="12.5"><input value="12.5">')
    '<input name="total_g" inputmode="decimal" value="12,5"><input value="12.5">'
    """
    page = _TEXT.sub(lambda text: _FIGURE.sub(r"\1,\2", text[0]), page)
    return _FIELD.sub(r"\1,\2", page)


def register(app: Flask) -> None:
    app.add_template_global(decimal_sign)
    app.after_request(_by_language)


def _by_language(response: Response) -> Response:
    if response.mimetype == "text/html" and not response.is_streamed and decimal_sign() == ",":
        page = response.get_data(as_text=True)
        if 'id="page"' in page:
            response.set_data(with_commas(page))
    if response.mimetype == "text/html":
        response.vary.add("Accept-Language")
    return response
