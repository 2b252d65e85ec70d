"""Setting the published report of the example campaign, PDF and HTML, against the comparison that it reports.

Best of several rounds; the ratio says what a reader waits for beyond the numbers.

    python -m benchmarks.report_speed
"""

import time

from benchmarks.timing import best
from boostwright.publish.document_page import document_page
from boostwright.publish.pdf import document_pdf
from boostwright.publish.published import ReportRequest, pulls_document
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import example_folder
from boostwright.studies.compare import compare_pairs, reduced_pulls

ROUNDS = 5


def main() -> None:
    """Measure and print."""
    campaign = read_campaign(example_folder("inlet-elbow"))
    compared = best(lambda: compare_pairs(reduced_pulls(campaign), campaign, "power"), ROUNDS, time.perf_counter)
    pulls = reduced_pulls(campaign)
    document = pulls_document(campaign, pulls, ReportRequest(with_model=False))
    parts = {
        "document with its figures": lambda: pulls_document(campaign, pulls, ReportRequest(with_model=False)),
        "HTML": lambda: document_page(document),
        "PDF": lambda: document_pdf(document, "a4"),
    }
    print(f"comparison, from the logs: {compared:.3f} s")
    for name, work in parts.items():
        taken = best(work, ROUNDS, time.perf_counter)
        print(f"{name}: {taken:.3f} s, ratio {taken / compared:.2f}")


if __name__ == "__main__":
    main()
