"""What moved since: between two plans, two days or two prints of a show, and which labels are out of date."""
