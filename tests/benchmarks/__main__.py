"""Every benchmark: chemistry against PHREEQC, HTTP against an echo, hostile bodies by size."""

from tests.benchmarks import chemistry, hostile, http

if __name__ == "__main__":
    chemistry.main()
    http.main()
    hostile.main()
