"""The cautions that every report and every list of limits carries."""

CAUTIONS: tuple[str, ...] = (
    "Belts, pulleys and rotors maim and kill: keep guards fitted and people out of their plane.",
    "Exhaust, blower and charge pipes burn, and the room is loud: wear eye and hearing protection.",
    "Fuel vapour ignites, and alcohol burns with a flame hardly seen: ventilate, keep a suitable extinguisher at hand.",
    "More boost can bring detonation, over-speed or over-pressure: stay within what the makers of blower, belt, engine "
    "and fuel system allow, whatever a number here says.",
    "On public roads and waters emissions and noise law apply; a change may need approval.",
    "These figures support the judgement of qualified people and do not replace it; local codes come first.",
)
