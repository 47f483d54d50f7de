"""Random requests over every address, form and filter, as each role: whatever comes, a page answers, and nobody sees a
patient who is not theirs."""
