"""The command line: thin commands over the study, the analysis and the results."""
