"""How a job runs over many pictures.

worker, workers: in processes of this machine; cluster: on a scheduler's workers, on many machines;
cache: without judging again what has not changed; kept: without holding every verdict in memory.
"""
