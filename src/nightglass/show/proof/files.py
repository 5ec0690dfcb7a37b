"""The files that a proof writes into out/ of its bench: the page and its chart."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nightglass.proof.assumptions import proof_assumptions
from nightglass.proof.frames import MeasuredBench
from nightglass.proof.records import Proof
from nightglass.show.page import write_page
from nightglass.show.proof.chart import write_proof_chart
from nightglass.show.proof.page import PAGE, proof_html

OUT = "out"


def write_proof(proof: Proof, bench: MeasuredBench, hints: Sequence[str]) -> tuple[Path, ...]:
    """Write page and chart; return their paths, the page first.

    hints: what else a reader must know. Raises OSError where the folder can't be written.
    """
    out = bench.file.folder / OUT
    out.mkdir(exist_ok=True)
    charts = tuple(write_proof_chart(proof, out))
    page = proof_html(
        proof,
        proof_assumptions(bench.file, proof, bench.place is not None),
        charts[0].read_text(encoding="utf-8") if charts else None,
        hints,
        bench.file.folder.resolve().name,
    )
    return (write_page(page, out / PAGE), *charts)
