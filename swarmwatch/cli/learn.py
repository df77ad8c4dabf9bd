"""The verb `learn`: what do your own outcomes change in the published numbers?"""

import json
from collections.abc import Hashable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Force, Records

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.swarming.learn import Learned


def learn(
    *,
    records: Records = RECORDS_DEFAULT,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to", metavar="FILE", help="Write what was learned there, for --evidence FILE."
        ),
    ] = None,
    as_json: AsJson = False,
    force: Force = False,
) -> None:
    """Learn from how past seasons ended for your colonies, and say whether it is any better.

    The odds of a swarm move, for all colonies alike, as far as your outcomes carry them. Seasons
    left out of the learning show whether that foretells swarms better; if not, keep the published.
    Nothing changes by itself: --to writes a file that score, place and alert read with --evidence.

    Example: swarmwatch learn --to own-evidence.toml
    """
    from swarmwatch.cli.files import refuse_existing
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import evidence_for
    from swarmwatch.swarming.learn import fit

    if to is not None:
        refuse_existing(to, force=force)
    with open_records(records) as store:
        frames = store.frames()
        chance = store.setting("yearly_swarm_chance")
    learned = fit(frames, evidence=evidence_for(None, chance))
    if as_json:
        print_json(
            "learn",
            learned.table,
            losses=json.loads(learned.losses.to_json(orient="records")),
            colonies=learned.colonies,
            swarms=learned.swarms,
            better=learned.better,
            advice=learned.advice,
        )
    else:
        typer.echo(_in_words(learned, chance))
    if to is not None:
        _write(learned, to, force=force)


def _write(learned: "Learned", to: Path, *, force: bool) -> None:
    """Write the learned values if they are to be used, else say why not."""
    from swarmwatch.cli.files import write_whole
    from swarmwatch.swarming.learn import own_evidence_text

    if not learned.better:
        complain(f"{to} was not written: the published values are to be kept.")
        return
    written = write_whole(to, own_evidence_text(learned).encode("utf-8"), force=force)
    complain(f"Wrote {written}. Use it so: swarmwatch score --evidence {written}")


def _in_words(learned: "Learned", chance: str | None) -> str:
    if not learned.colonies:
        return learned.advice
    from swarmwatch.wording import per_cent

    lines = [
        f"Learned from {learned.colonies} colony seasons with an outcome, {learned.swarms} swarms.",
        "",
        f"{'':<34}{'published':>10}{'learned':>10}  what it says",
        *_rows(learned.table),
    ]
    if chance is not None:
        lines.append(
            f"It comes on top of your records' own yearly share of {per_cent(float(chance))}; "
            "if you change that, learn again."
        )
    if len(learned.losses):
        lines += ["", *_losses(learned.losses)]
    return "\n".join([*lines, "", learned.advice])


def _rows(table: "pd.DataFrame") -> list[str]:
    out = []
    for row in table.to_dict("records"):
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        values = f"{row['published']:>10.3g}{row['fitted']:>10.3g}{unit}"
        used = row["learned"] != row["published"]
        span = f", 80 % range {row['low']:.2g} to {row['high']:.2g}" if used else ""
        out += [
            f"{row['name']:<34}{values}  {row['words']}{span}",
            f"    {row['key']}; source of the published: {row['source']} ({row['grade']})",
        ]
    return out


def _losses(losses: "pd.DataFrame") -> list[str]:
    """Return the losses of each left-out season, and of all."""
    head = f"{'season left out':<18}{'colonies':>10}{'swarms':>8}{'published':>11}{'learned':>9}"
    total = losses["colonies"].sum()
    pooled = [
        (losses["colonies"] * losses[c]).sum() / total for c in ("loss_published", "loss_learned")
    ]
    whole: dict[Hashable, object] = {
        "season": "all",
        "colonies": total,
        "swarms": losses["swarms"].sum(),
        "loss_published": pooled[0],
        "loss_learned": pooled[1],
    }
    return [
        "Log loss a colony, the lower the better; learned on the other seasons:",
        head,
        *(
            f"{r['season']!s:<18}{r['colonies']:>10}{r['swarms']:>8}"
            f"{r['loss_published']:>11.4f}{r['loss_learned']:>9.4f}"
            for r in [*losses.to_dict("records"), whole]
        ),
    ]
