"""Lines that the mechanics cover, for properties."""

from hypothesis import strategies as st

from engineering.line import G_MPS2, Cable, Line


@st.composite
def lines(draw):
    """Lines that the method covers, from 60 to 800 m."""
    span = draw(st.floats(60, 800))
    mass = draw(st.floats(0.5, 1.5))
    weight = mass * G_MPS2 * span**2 / 8
    tension = weight / (draw(st.floats(0.013, 0.035)) * span)
    anchor = draw(st.sampled_from([None, 1e6, 1e5]))
    kept = draw(st.booleans())
    stiffness = mass * draw(st.floats(6e6, 1.2e7))
    return Line(span, span * draw(st.floats(0.0, 0.13)), Cable(mass, max(stiffness, 1e6)), tension, 15.0, anchor, kept)
