"""The report of a backtest as one page for the browser, and as a printed report."""

from dataclasses import dataclass
from functools import partial

import pandas as pd
from matplotlib.axes import Axes

from swarmwatch.mapping.escaping import safe
from swarmwatch.mapping.paper import HEIGHT_MM, INNER_MM, MARGIN_MM, WIDTH_MM, Paper, our_look
from swarmwatch.reports.backtest_charts import (
    draw_colony,
    draw_reliability,
    draw_season,
    picture,
    title_of,
)

_DAYS = (7, 14)
_CAUTION = (
    "Odds, not promises: they do not replace opening the hive. Rows of one colony hang together, "
    "so that differences within twice the error may be chance."
)
_STYLE = """
body{font:16px/1.45 sans-serif;color:#000;background:#fff}
body{max-width:60rem;margin:0 auto;padding:1rem}
table{border-collapse:collapse;display:block;overflow-x:auto}
th,td{padding:.2rem .6rem;border-bottom:1px solid #bbb;text-align:right}
th:first-child,td:first-child{text-align:left}
img{max-width:100%;height:auto}
.colonies{display:grid;grid-template-columns:repeat(auto-fill,minmax(17rem,1fr));gap:.5rem}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What a report shows.

    `rows` are those of a replay with the rivals' columns and ``world`` ("" for the keeper's own
    records); `examples` those of the colonies to draw. `table` holds text cells, its first column
    names the forecast.
    """

    title: str
    lines: list[str]
    table: pd.DataFrame
    rows: pd.DataFrame
    examples: pd.DataFrame
    forecasts: dict[str, str]


def as_page(report: Report) -> str:
    """Return the report as one HTML page that asks for nothing else."""
    charts = [
        _image(
            picture(
                partial(draw_reliability, rows=report.rows, forecasts=report.forecasts, days=days),
                width=5,
                height=4,
            ),
            f"Reliability of the forecasts for {days} days",
        )
        for days in _DAYS
    ]
    charts.append(
        _image(
            picture(partial(draw_season, rows=report.rows), width=7, height=3),
            "The season curve and the prime swarms by week",
        )
    )
    colonies = [
        _image(
            picture(partial(draw_colony, rows=rows, days=_DAYS[0]), width=4, height=2),
            f"Chance for 7 days, {title_of(rows.iloc[0])}",
        )
        for rows in _one_by_one(report.examples)
    ]
    paragraphs = "".join(f"<p>{safe(line)}</p>\n" for line in report.lines)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{safe(report.title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"<h1>{safe(report.title)}</h1>\n{paragraphs}{_table(report.table)}"
        f"<p>{safe(_CAUTION)}</p>\n<h2>Reliability and season</h2>\n{''.join(charts)}"
        f"<h2>Each colony</h2>\n<p>{safe(_LEGEND)}</p>\n"
        f'<div class="colonies">\n{"".join(colonies)}</div>\n</body>\n</html>\n'
    )


_LEGEND = (
    "The line is the chance of a prime swarm within 7 days, the band its 80 % range; the upright "
    "bar is the swarm, a dashed line a treatment, a dash-dotted line the colony's end."
)


def _image(address: str, words: str) -> str:
    return f'<img src="{address}" alt="{safe(words)}">\n'


def _table(table: pd.DataFrame) -> str:
    head = "".join(f'<th scope="col">{safe(c)}</th>' for c in table)
    body = "".join(
        "<tr>" + "".join(f"<td>{safe(cell)}</td>" for cell in row) + "</tr>\n"
        for row in table.itertuples(index=False)
    )
    return f"<table>\n<tr>{head}</tr>\n{body}</table>\n"


def _one_by_one(examples: pd.DataFrame) -> list[pd.DataFrame]:
    groups = examples.groupby(["world", "season", "colony"], sort=True)
    return [rows.sort_values("on") for _, rows in groups]


def as_pdf(report: Report) -> bytes:
    """Return the report as PDF on A4."""
    with our_look():
        paper = Paper()
        paper.paragraph(report.title, size=16, bold=True, gap_mm=3)
        for line in report.lines:
            paper.paragraph(line, size=9)
        _print_table(paper, report.table)
        paper.paragraph(_CAUTION, size=8, gap_mm=5)
        half = (INNER_MM - 12) / 2
        paper.need(half)
        for i, days in enumerate(_DAYS):
            axes = _axes(
                paper, x_mm=MARGIN_MM + 8 + i * (half + 8), width_mm=half - 8, height_mm=62
            )
            draw_reliability(axes, report.rows, report.forecasts, days)
        paper.y += 84
        paper.need(60)
        draw_season(
            _axes(paper, x_mm=MARGIN_MM + 8, width_mm=INNER_MM - 8, height_mm=45), report.rows
        )
        paper.y += 65
        paper.need(60)
        paper.paragraph(_LEGEND, size=8, gap_mm=4)
        _print_colonies(paper, _one_by_one(report.examples))
        return paper.pdf(title=report.title, foot="swarmwatch backtest; odds, not promises")


def _print_table(paper: Paper, table: pd.DataFrame) -> None:
    first = 40.0
    step = (INNER_MM - first) / max(table.shape[1] - 1, 1)
    cells = [list(table.columns), *table.itertuples(index=False)]
    paper.y += 2
    for number, row in enumerate(cells):
        paper.need(5)
        at = paper.y
        for i, cell in enumerate(row):
            x = MARGIN_MM + (0 if i == 0 else first + (i - 1) * step)
            paper.lines([str(cell)], size=7.5, x=x, y=at, bold=number == 0)
        paper.y += 4.5
    paper.y += 3


def _print_colonies(paper: Paper, colonies: list[pd.DataFrame]) -> None:
    across, height = 2, 24.0
    width = (INNER_MM - 10) / across
    for first in range(0, len(colonies), across):
        paper.need(height + 14)
        for i, rows in enumerate(colonies[first : first + across]):
            axes = _axes(
                paper, x_mm=MARGIN_MM + 6 + i * (width + 8), width_mm=width - 8, height_mm=height
            )
            draw_colony(axes, rows, _DAYS[0])
        paper.y += height + 14


def _axes(paper: Paper, *, x_mm: float, width_mm: float, height_mm: float) -> Axes:
    """Return axes on the page at hand, their top a title's height below the flow's place."""
    figure = paper.sheets[-1][0]
    below = HEIGHT_MM - paper.y - 6 - height_mm
    axes = figure.add_axes(
        (x_mm / WIDTH_MM, below / HEIGHT_MM, width_mm / WIDTH_MM, height_mm / HEIGHT_MM)
    )
    axes.tick_params(labelsize=7)
    for text, size in ((axes.xaxis.label, 8), (axes.yaxis.label, 8), (axes.title, 9)):
        text.set_fontsize(size)
    return axes
