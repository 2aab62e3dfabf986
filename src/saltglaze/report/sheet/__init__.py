"""The sheet: plan above, long section below, one drawing for paper, page and desk."""
