"""The accuracy contract on a demonstration: true against claimed error over many seeds.

    python tests/benchmarks/bench_contract.py [study] [seeds]

Prints, for every governing limit state and every union, the mean over the seeds, the true coefficient of variation
(the spread over the seeds), the claimed one, and the share of intervals that hold the mean. The plain simulation is
small here, so that what is judged is the aimed sample.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from riskcut.analysis.binding import bind
from riskcut.analysis.running import target_probability
from riskcut.reliability.assessment import assess
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.study.reading import read_study

STUDY = Path(__file__).parents[2] / "studies" / "a_pumping_station.yaml"


def main(study: Path, seeds: int) -> None:
    bound = bind(read_study(study))
    problem = bound.problem
    figures: dict[str, list] = {}
    rows, evaluations, seconds = [], [], []
    for seed in range(seeds):
        first = pilot(problem, seed=seed, blocks=2, bins=8)
        tally = simulate(problem, seed=seed, blocks=4, purpose="simulation", detail_blocks=1)
        begun = time.process_time()
        found = assess(problem, first, tally, seed=seed, targets=target_probability(bound))
        seconds.append(time.process_time() - begun)
        rows.append(found.ledger.rows)
        evaluations.append(found.ledger.margin_evaluations)
        for (place, k), figure in found.states.items():
            component = problem.components[place]
            figures.setdefault(f"{component.name}: {component.labels[k]}", []).append(figure)
        for name, figure in found.unions.items():
            figures.setdefault(f"union {name}", []).append(figure)
        for (name, turn), figure in found.first_failures.items():
            if problem.in_turns[name]:
                figures.setdefault(f"first failure of {name}, turn {turn}", []).append(figure)
    print(
        f"{seeds} seeds, {np.mean(rows):,.0f} rows, {np.mean(evaluations):,.0f} margin evaluations, "
        f"{np.mean(seconds):.1f} s of processor a run"
    )
    print(f"{'':66} {'mean':>10} {'true':>7} {'claimed':>8} {'held':>6} {'doubts':>6}")
    for name, several in figures.items():
        p = np.array([figure.probability for figure in several])
        if not p.mean() > 0.0 or {figure.kind.value for figure in several} != {"sampled"}:
            continue
        true = p.std(ddof=1) / p.mean()
        claimed = np.sqrt(np.mean([figure.standard_error**2 for figure in several])) / p.mean()
        held = np.mean([figure.lower <= p.mean() <= figure.upper for figure in several])
        doubts = sum(bool(figure.doubt) for figure in several)
        print(f"{name[:66]:66} {p.mean():10.3e} {true:7.1%} {claimed:8.1%} {held:6.2f} {doubts:6d}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else STUDY, int(sys.argv[2]) if len(sys.argv) > 2 else 100)
