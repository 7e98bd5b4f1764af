"""Which inputs decide a margin: variance-based indices, and when one of them may be called the leader.

Knows nothing of soil: :func:`riskcut.sensitivity.sobol.analyse` takes a number of independent standard
normal drivers and a vectorised function from them to margins.
"""
