"""How likely failure is: a joint distribution, vectorised margins, and counting with honest intervals.

Knows nothing of soil. A :class:`~riskcut.reliability.problem.Problem` is all that it needs, so any
published reliability problem can be put to it.
"""
