"""Every benchmark: chemistry against PHREEQC, HTTP against a service that only echoes."""

from tests.benchmarks import chemistry, http

if __name__ == "__main__":
    chemistry.main()
    http.main()
