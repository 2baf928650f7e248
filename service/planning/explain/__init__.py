"""The working behind each answer: finished results and their intermediates as ordered lines."""
