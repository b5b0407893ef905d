"""The sheet as a page: HTML that needs no script and no style of its own, made to be printed."""

from collections.abc import Iterator
from html import escape

from drainscale_server.record.blocks import Block, Facts, Plot, Points, Section, Sheet, Table, Words
from drainscale_server.record.svg import svg

STYLESHEET = "/static/record/record.css"


def page(sheet: Sheet, paper: str = "a4", document_path: str | None = None) -> str:
    """Write a sheet as HTML.

    Args:
        sheet: What to write.
        paper: ``a4`` or ``letter``; for printing.
        document_path: Where the same is as PDF, for the link to it.
    """
    return "".join(_page(sheet, paper, document_path))


def _page(sheet: Sheet, paper: str, document_path: str | None) -> Iterator[str]:
    title = escape(f"{sheet.title}: {sheet.subtitle}")
    yield (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n"
        f'<link rel="stylesheet" href="{STYLESHEET}">\n</head>\n'
        f'<body class="paper-{escape(paper)}">\n'
    )
    if document_path is not None:
        yield _links(paper, document_path)
    yield f'<header>\n<h1 dir="auto">{escape(sheet.heading)}</h1>\n'
    yield f'<p class="title">{title}</p>\n</header>\n<main>\n'
    for alert in sheet.alerts:
        yield f'<p class="alert">{escape(alert)}</p>\n'
    kind = "verdict" if sheet.is_level_set else "verdict not-set"
    yield f'<p class="{kind}">{escape(sheet.verdict)}</p>\n'
    for n, section in enumerate(sheet.sections):
        yield from _section(section, n)
    yield f'</main>\n<footer><p dir="auto">{escape(sheet.footer)}</p></footer>\n</body>\n</html>\n'


def _links(paper: str, document_path: str) -> str:
    other = "letter" if paper == "a4" else "a4"
    names = {"a4": "A4", "letter": "US letter"}
    return (
        '<nav class="screen" aria-label="This record">\n'
        f'<a href="{escape(document_path)}?paper={paper}">As PDF ({names[paper]})</a>\n'
        f'<a href="?paper={other}">For {names[other]} paper</a>\n</nav>\n'
    )


def _section(section: Section, n: int) -> Iterator[str]:
    yield f'<section aria-labelledby="s{n}">\n<h2 id="s{n}">{escape(section.title)}</h2>\n'
    for i, block in enumerate(section.blocks):
        yield _block(block, f"s{n}-{i}")
    yield "</section>\n"


def _block(block: Block, name: str) -> str:
    match block:
        case Words(text=text, tone=tone):
            return f'<p class="{tone}">{escape(text)}</p>\n'
        case Facts(rows=rows, columns=columns):
            kind = ' class="pairs"' if columns > 1 else ""
            return f"<dl{kind}>\n" + "".join(map(_fact, rows)) + "</dl>\n"
        case Table():
            return _table(block)
        case Points(items=items):
            return "<ul>\n" + "".join(f"<li>{escape(item)}</li>\n" for item in items) + "</ul>\n"
        case Plot(drawing=drawing, caption=caption):
            return (
                f"<figure>\n<h3>{escape(drawing.title)}</h3>\n{svg(drawing, name)}\n"
                f"<figcaption>{escape(caption)}</figcaption>\n</figure>\n"
            )


def _fact(row: tuple[str, str]) -> str:
    name, value = row
    return f'<div><dt>{escape(name)}</dt><dd dir="auto">{escape(value)}</dd></div>\n'


def _table(table: Table) -> str:
    head = "".join(
        f'<th scope="col"{_figures(i in table.figures)}>{escape(text)}</th>'
        for i, text in enumerate(table.head)
    )
    rows = "".join(f"<tr>{_row(row, table)}</tr>\n" for row in table.rows)
    return (
        f'<div class="wide" tabindex="0" role="group" aria-label="{escape(table.caption)}">\n'
        f"<table>\n<caption>{escape(table.caption)}</caption>\n"
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n</div>\n"
    )


def _row(row: tuple[str, ...], table: Table) -> str:
    first, rest = row[0], row[1:]
    return f'<th scope="row" dir="auto">{escape(first)}</th>' + "".join(
        f"<td{_figures(i in table.figures)}>{escape(text)}</td>"
        for i, text in enumerate(rest, start=1)
    )


def _figures(is_figure: bool) -> str:
    return ' class="figure"' if is_figure else ' dir="auto"'
