"""What each limit means, and how pages are worked."""
