"""One clock: where each further log lies on the ECU log's clock, and whether it is of the same run at all."""

from dataclasses import dataclass

from analysis.quantities import Estimate


@dataclass(frozen=True, slots=True)
class ClockMatch:
    """How a further log's clock lies on the ECU log's: ``ecu = offset_s + t * (1 + rate_ppm * 1e-6)``."""

    log: str
    """Name of the further log."""
    offset_s: Estimate
    """ECU time of the further log's first row. [s]"""
    rate_ppm: Estimate
    """How much faster ECU time runs than the further log's own clock. [1e-6]"""
    matched_on: tuple[str, ...]
    """Channels that both hold and that were matched."""
