"""The papers: owner's report, sheet, dig sheets, estimate, cards and letters."""
