"""The program by which an auditor checks a bundle on a machine of his own: one file that needs nothing else."""
