"""What the rulebook says about itself: what is tried, what is unsettled, what would go unnoticed."""
