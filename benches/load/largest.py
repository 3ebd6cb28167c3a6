#!/usr/bin/env python3
"""Memory of the service while as many connections as it takes each send the largest body at once.

    cargo build --release --bin stopwright
    benches/load/largest.py [--connections 500] [--binary target/release/stopwright]

Every body is sent but for its last byte; once all have arrived the last bytes follow, and every answer is read. Prints,
for each kind of body, the most that was resident (VmHWM) of a service begun for it, and statuses. Wants Linux.
"""

import argparse
import asyncio
import collections
import json
import pathlib
import re
import subprocess

ROOT = pathlib.Path(__file__).resolve().parents[2]
LARGEST = 262_144


def padded(body):
    """As large as may be, by spaces before the last bracket."""
    return body[:-1] + b" " * (LARGEST - len(body)) + body[-1:]


def bodies():
    convert = json.dumps({"from": "f/8", "to": "f/11"}).encode()
    # The most values that fit: each of them is a node of the tree.
    values = b'{"from": "f/8", "to": "f/11", "shift": [' + b"0," * 131_000 + b"0]}"
    item = {"path": "/v1/stops/convert", "body": {"from": "f/8", "to": "f/11"}}
    batch = json.dumps({"requests": [item] * 1000}).encode()
    yield "a conversion and spaces", "/v1/stops/convert", padded(convert)
    yield "a list of 131,000 numbers", "/v1/stops/convert", padded(values)
    yield "a batch of 1000 conversions", "/v1/batch", padded(batch)


def resident(process, what):
    status = pathlib.Path(f"/proc/{process.pid}/status").read_text()
    return int(re.search(rf"{what}:\s+(\d+) kB", status)[1]) / 1000


async def one(host, port, path, body, arrived, everyone):
    reader, writer = await asyncio.open_connection(host, port)
    head = f"POST {path} HTTP/1.1\r\nhost: x\r\nconnection: close\r\ncontent-type: application/json\r\n"
    writer.write(f"{head}content-length: {len(body)}\r\n\r\n".encode() + body[:-1])
    await writer.drain()
    arrived.release()
    await everyone.wait()
    writer.write(body[-1:])
    status = (await reader.readline()).split()[1].decode()
    while await reader.read(65_536):
        pass
    writer.close()
    return status


async def all_of_them(host, port, path, body, count):
    arrived, everyone = asyncio.Semaphore(0), asyncio.Event()
    calls = [asyncio.create_task(one(host, port, path, body, arrived, everyone)) for _ in range(count)]
    for _ in calls:
        await arrived.acquire()
    # What was sent last may not be read yet.
    await asyncio.sleep(1)
    everyone.set()
    return collections.Counter(await asyncio.gather(*calls))


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--connections", type=int, default=500)
    arguments.add_argument("--binary", type=pathlib.Path, default=ROOT / "target/release/stopwright")
    given = arguments.parse_args()
    for what, path, body in bodies():
        assert len(body) == LARGEST, (what, len(body))
        process = subprocess.Popen(
            [given.binary, "serve", "--listen", "127.0.0.1:0"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        try:
            host, port = process.stdout.readline().split("//")[1].split(":")
            idle = resident(process, "VmRSS")
            statuses = asyncio.run(all_of_them(host, int(port), path, body, given.connections))
            print(f"{what}: {idle:.1f} MB idle, {resident(process, 'VmHWM'):.1f} MB at the most; {dict(statuses)}")
        finally:
            process.terminate()
            process.wait()


main()
