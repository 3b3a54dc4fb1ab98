"""The tables of agreement in README.md: made here, not by hand.

``python tests/against/tables.py`` samples the examples of BUGS (half a minute) and reads what the
other programs left; `beside_stan.py` must have written the tables of the posteriors before.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / name) for name in ("history", "published")]
BEGIN, END = "<!-- {}: made by tables.py, not by hand -->", "<!-- end of {} -->"


def markdown(head: list[str], rows: list[list[str]]) -> str:
    """A table of text."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def number(value: float) -> str:
    """Six significant digits."""
    return f"{value:.6g}"


def special_cases() -> str:
    """Every line of the special cases."""
    import special

    ours = special.numbers()
    theirs = special.r_numbers((special.HERE / "fits.csv").read_text())
    by = {"company": "msm", "rivalry": "msm", "seen": "survreg", "cure": "optim", "frailty": "lme4"}
    rows = [
        [case, name, by[case], number(ours[case, name]), number(v), f"{ours[case, name] - v:+.1e}"]
        for (case, name), v in theirs.items()
    ]
    return markdown(["case", "number", "program", "ours", "theirs", "difference"], rows)


def bugs_examples() -> str:
    """Kidney and mice: ours, JAGS run long, and what was printed."""
    import test_bugs_examples as bugs

    ours = bugs.ours()
    long = bugs.read((bugs.FOLDER / "jags.csv").read_text())
    rows = []
    for (example, name), own in ours.iterrows():
        line = [example, name, f"{own['mean']:.4f} ({own['mcse']:.4f})"]
        told = [(long.loc[(example, name), "mean"], long.loc[(example, name), "mcse"])]
        told.append(bugs.BENCHMARK[example][name])
        told.append(bugs.OPENBUGS[name] if example == "kidney" else None)
        for one in told:
            line.append("" if one is None else f"{one[0]:.4f} ({one[1]:.4f})")
            line.append("" if one is None else f"{bugs.off(own, *one):+.1f}")
        rows.append(line)
    head = ["example", "number", "ours", "JAGS run here", "errors", "JAGS benchmark", "errors"]
    return markdown([*head, "OpenBUGS", "errors"], rows)


def eight_schools() -> str:
    """Means of the posterior: ours, exact, and what posteriordb prints."""
    import test_partial_pooling as pooling

    found = pooling.schools()
    fresh, tau = pooling.not_yet_tried(found), found.sd[..., 0]
    lines = [
        ("mu", fresh, pooling.EXACT_MU, pooling.PRINTED_MU),
        ("tau", tau, pooling.EXACT_TAU, pooling.PRINTED_TAU),
        *(
            (f"theta[{i + 1}]", found.effects[..., 0, i], v, None)
            for i, v in enumerate(pooling.EXACT_THETA)
        ),
    ]
    rows = []
    for name, values, exact, printed in lines:
        ours, error = values.mean(), pooling.error_of(values)
        line = [
            name,
            f"{ours:.4f}",
            f"{error:.4f}",
            f"{exact:.4f}",
            f"{(ours - exact) / error:+.1f}",
        ]
        both = np.hypot(error, pooling.PRINTED_ERROR)
        told = (
            ["", ""] if printed is None else [f"{printed:.4f}", f"{(ours - printed) / both:+.1f}"]
        )
        rows.append(line + told)
    return markdown(["number", "ours", "error", "exact", "errors", "posteriordb", "errors"], rows)


def likelihoods() -> str:
    """How far likelihoods of single foundings lie from those of Stan."""
    import plain_export
    import test_whole_model as whole

    rows = []
    for study, make in plain_export.STUDIES.items():
        past = make()
        wide = whole.read(study, "drawn", "name")
        theirs = whole.read(study, "likelihoods", "founding").to_numpy()
        likely = theirs > whole.LIKELY
        for cell in (0.5, 2.0):
            off = np.abs(whole.likelihoods(past, wide, cell) - theirs)[likely]
            line = [study, f"{likely.sum()} of {likely.size}", f"{cell:g}"]
            rows.append([*line, f"{np.median(off):.1e}", f"{off.max():.4f}"])
    head = ["study", "foundings x draws", "our cells (days)", "median difference", "largest"]
    return markdown(head, rows)


def outcomes_known() -> str:
    """Outcomes at known parameters, by quantity."""
    import test_whole_model as whole

    told = pd.read_csv(whole.beside.HERE / "simulated" / "followed.csv", comment="#")
    told["reading"], told["day"] = told["reading"].fillna(""), told["day"].fillna(-1.0)
    told["off"] = whole.off_by(told)
    exact = told["mcse"] == 0
    told["errors"] = (told["off"] / told["mcse"].where(~exact)).abs()
    rows = []
    for name, own in told.groupby("quantity", sort=False):
        at = own["off"].abs().idxmax()
        line = [name, str(len(own)), number(own["mean"][at] + own["off"][at])]
        line += [number(own["mean"][at]), f"{own['mcse'][at]:.1e}", f"{own['off'][at]:+.1e}"]
        rows.append(line)
    return markdown(["quantity", "lines", "ours", "theirs", "error", "largest difference"], rows)


SHOWN = (
    "chance_per_founding", "chance_lasting", "same_queens_any", "same_queens_count", "share_alive",
    "share_alive_before_workers", "queen_days", "chance_by_day", "median_day", "chance_one_left",
    "chance_none_left", "expected_left",
)  # fmt: skip


def posterior(study: str) -> str:
    """Parameters that genera share, means over genera, and outcomes of all kinds together."""
    place = HERE / "whole_model" / study
    table = pd.read_csv(place / "agreement_parameters.csv")
    every = len(table)
    worst = table["errors"].abs().max()
    own = table[~table["name"].str.contains("[", regex=False)]
    rows = [_line(r["name"], r) for _, r in own.iterrows()]
    outcome = pd.read_csv(place / "agreement_outcomes.csv", keep_default_na=False)
    late = outcome[outcome["quantity"].isin(SHOWN) & (outcome["genus"] == "average")]
    days = pd.to_numeric(late["day"])
    late = late[(days == days.max()) | late["quantity"].str.contains("left|median")]
    for _, r in late.iterrows():
        words = [r["quantity"], r["reading"], f"day {r['day']}" if r["day"] else ""]
        rows.append(_line(", ".join(w for w in [*words, f"{r['queens']} queens"] if w), r))
    head = ["number", "ours", "theirs", "combined error", "difference", "in errors"]
    over = (outcome["errors"].abs() > 3).sum() + (table["errors"].abs() > 3).sum()
    return (
        f"{every} parameters, the farthest {worst:.2f} errors apart; {len(outcome)} outcomes, the "
        f"farthest {outcome['errors'].abs().max():.2f}; {over} of all beyond 3.\n"
        f"Every line: `whole_model/{study}/agreement_*.csv`.\n\n" + markdown(head, rows)
    )


def _line(name: str, row: pd.Series) -> list[str]:
    error = np.hypot(row["mcse_ours"], row["mcse_theirs"])
    numbers = [f"{row[c]:.4f}" for c in ("mean_ours", "mean_theirs")]
    return [name, *numbers, f"{error:.4f}", f"{row['difference']:+.4f}", f"{row['errors']:+.1f}"]


def main() -> None:
    sections = {
        "special cases": special_cases,
        "examples of BUGS": bugs_examples,
        "eight schools": eight_schools,
        "likelihoods": likelihoods,
        "outcomes at known parameters": outcomes_known,
        "posterior of the simulated study": lambda: posterior("simulated"),
        "posterior of the demo": lambda: posterior("demo"),
    }
    page = HERE / "README.md"
    text = page.read_text("utf-8")
    for name, made in sections.items():
        if len(sys.argv) > 1 and name not in sys.argv[1:]:
            continue
        begin, end = BEGIN.format(name), END.format(name)
        head, rest = text.split(begin)
        _, tail = rest.split(end)
        text = f"{head}{begin}\n{made()}\n{end}{tail}"
    page.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
