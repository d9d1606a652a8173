"""`hidewright simulate`: let a simulated shop match, pour, read, correct and learn, to see what the engine is worth."""

import json
import time

import click
import numpy as np

from hidewright.units import counted


@click.command()
@click.option(
    "--scenario",
    type=click.Choice(["usual", "rough"]),
    default="usual",
    show_default=True,
    help="How far bottles stray.",
)
@click.option(
    "--jobs", default=20, show_default=True, type=click.IntRange(1, 500), help="Jobs one after the other."
)
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same shop.")
@click.option("--forget", is_flag=True, help="Learn nothing from job to job.")
@click.option(
    "--plain", is_flag=True, help="Correct the plain way: nominal strengths, aim shifted by the miss."
)
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(scenario: str, jobs: int, seed: int, forget: bool, plain: bool, as_json: bool) -> None:
    """Run a simulated shop on the generic pigments; the truth is known, so every cup can be judged. Ctrl-C keeps what is done."""
    from hidewright.cli.match import Watch
    from hidewright.colour.simulate import SCENARIOS, run_shop
    from hidewright.demo.make_colours import pigments

    start = time.process_time()
    with Watch() as watch:
        results, known = run_shop(
            SCENARIOS[scenario],
            list(pigments().values()),
            jobs,
            seed,
            memory=not (forget or plain),
            plain=plain,
            on_progress=watch.part(0.0, 1.0),
            should_stop=lambda: watch.asked,
        )
    spent = time.process_time() - start
    told = {
        "scenario": scenario,
        "seed": seed,
        "jobs": len(results),
        "first_cup": [round(r.first, 3) for r in results],
        "corrections": [r.corrections for r in results],
        "growth": [round(r.growth, 4) for r in results],
        "failed": sum(r.failed for r in results),
        "held_in_90": round(float(np.mean([r.held for r in results])) / 3, 3),
        "readings": known.readings,
        "processor_s": round(spent, 1),
    }
    if as_json:
        click.echo(json.dumps(told, indent=1))
        return
    first = np.array([r.first for r in results])
    tail = first[len(first) // 2 :]
    click.echo(f"{counted(len(results), 'job')} in a simulated shop, bottles {scenario}, seed {seed}.")
    click.echo(
        f"First cup, true ΔE00: mean {first.mean():.2f}; second half {tail.mean():.2f}, worst there {tail.max():.2f}."
    )
    click.echo(
        f"Corrections a job: {np.mean([r.corrections for r in results]):.2f}; growth {np.mean([r.growth for r in results]):.1%}."
    )
    click.echo(
        f"Not good after eight corrections: {told['failed']}. Forecast's 90 % intervals held {told['held_in_90']:.0%}."
    )
