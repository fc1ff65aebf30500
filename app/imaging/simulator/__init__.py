"""A physical simulator of intraoral radiographs: a mouth of solids, a point source, a receptor, and the truth.

``grown_mouth`` grows an invented patient from a seed, ``expose`` takes a radiograph of a slot with or without
technique errors, and ``Truth`` says what it shows, from the geometry alone.
"""

from app.imaging.simulator.detector import Detector
from app.imaging.simulator.exposure import Simulated, expose
from app.imaging.simulator.growing import AVERAGE, Spread, grown_mouth
from app.imaging.simulator.mouth import Mouth
from app.imaging.simulator.pose import GOOD, Equipment, SlotPose, TechniqueErrors
from app.imaging.simulator.truth import Truth

__all__ = [
    "AVERAGE",
    "GOOD",
    "Detector",
    "Equipment",
    "Mouth",
    "Simulated",
    "SlotPose",
    "Spread",
    "TechniqueErrors",
    "Truth",
    "expose",
    "grown_mouth",
]
