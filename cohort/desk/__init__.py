"""What keepers ask of the sheets: begin, bring, log, allot, print. Never: an analysis."""
