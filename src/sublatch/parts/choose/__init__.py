"""Choosing parts: from the corner and peak that one liked to what can be bought for them."""
