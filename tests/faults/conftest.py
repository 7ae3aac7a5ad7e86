from tests.live import live, private_redis

__all__ = ["live", "private_redis"]
