"""The results tree: names, units, netCDF in and out, and what every reader of it needs.

One way out: an analysis hands its arrays to :func:`riskcut.results.vocabulary.assemble`, which names,
labels and checks them against one table; :mod:`riskcut.results.writing` puts the tree on disk and takes
it back; figures and the command line read through :mod:`riskcut.results.reading` and speak through
:mod:`riskcut.results.wording`. Nothing here knows how a number was computed.
"""
