"""Reads a delivered film back: what a player or a host will find in the file, down to its boxes and key frames."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, BinaryIO

# Boxes of ISO/IEC 14496-12 that hold further boxes, and how many bytes of their own stand before those.
_HOLDERS = {b"moov": 0, b"trak": 0, b"mdia": 0, b"minf": 0, b"stbl": 0, b"stsd": 8, b"avc1": 78, b"apch": 78}
_BOXED = (".mp4", ".mov")
_IDR = 5  # NAL unit type of a picture that nothing before it is needed for (ITU-T H.264, table 7-1)


def probe(path: Path) -> dict[str, Any]:
    """What a film file holds, as plain values; boxes and colr are empty where it has none (Matroska).

    bytes, boxes (top-level types in order), moov_first, then `video` {codec, profile, size, pixels, frames, rate,
    seconds, primaries, transfer, matrix, range (numbers of ITU-T H.273, range 1 limited), colr, key_frames (indices),
    closed_gop} and `sound` {codec, rate, channels, samples, seconds}, or None without sound. Rates are strings
    such as '24000/1001'. Raises what PyAV raises if the file is no film.
    """
    import av

    boxed = path.suffix.lower() in _BOXED
    boxes = [kind.decode("latin-1") for kind in top_level(path)] if boxed else []
    with av.open(str(path.resolve())) as container:
        video = container.streams.video[0]
        sound = next(iter(container.streams.audio), None)
        return {
            "bytes": path.stat().st_size,
            "boxes": boxes,
            "moov_first": "mdat" in boxes and "moov" in boxes[: boxes.index("mdat")],
            "video": _video(container, video, path),
            "sound": _sound(sound, path),
        }


def _video(container: Any, stream: Any, path: Path) -> dict[str, Any]:
    context = stream.codec_context
    is_h264 = context.name == "h264"
    prefix = (bytes(context.extradata)[4] & 3) + 1 if is_h264 else 0  # bytes of a NAL unit's length (14496-15, avcC)
    # In the order they are shown in; the file has them in the order they are decoded in.
    packets = sorted(
        (p.pts, p.is_keyframe, bytes(p) if p.is_keyframe and is_h264 else b"")
        for p in container.demux(stream)
        if p.size
    )
    keys = [number for number, (_, is_key, _) in enumerate(packets) if is_key]
    return {
        "codec": context.name,
        "profile": context.profile,
        "size": [context.width, context.height],
        "pixels": context.pix_fmt,
        "frames": len(packets),
        "rate": str(Fraction(stream.average_rate)),
        "seconds": float(len(packets) / Fraction(stream.average_rate)),
        "primaries": int(context.color_primaries),
        "transfer": int(context.color_trc),
        "matrix": int(context.colorspace),
        "range": int(context.color_range),
        "tag": context.codec_tag,
        "colr": colour_box(path) if path.suffix.lower() in _BOXED else "",
        "key_frames": keys,
        "closed_gop": all(_IDR in nal_types(data, prefix) for _, is_key, data in packets if is_key)
        if is_h264
        else len(keys) == len(packets),
    }


def _sound(stream: Any, path: Path) -> dict[str, Any] | None:
    if stream is None:
        return None
    length = stream.duration
    samples = _counted(path) if length is None else round(length * stream.time_base * stream.rate)
    return {
        "codec": stream.codec_context.name,
        "rate": stream.rate,
        "channels": len(stream.layout.channels),
        "samples": samples,
        "seconds": samples / stream.rate,
    }


def _counted(path: Path) -> int:
    """The samples of a sound whose file does not say how many they are."""
    import av

    with av.open(str(path.resolve())) as container:
        return sum(frame.samples for frame in container.decode(audio=0))


def nal_types(packet: bytes, prefix: int) -> list[int]:
    """The types of a packet's NAL units, each of which stands behind its length in `prefix` bytes."""
    types, at = [], 0
    while at + prefix < len(packet):
        types.append(packet[at + prefix] & 31)
        at += prefix + int.from_bytes(packet[at : at + prefix], "big")
    return types


def top_level(path: Path) -> list[bytes]:
    """The types of the file's outermost boxes, in order."""
    with path.open("rb") as file:
        return [kind for kind, _, _ in _boxes(file, 0, path.stat().st_size)]


def colour_box(path: Path) -> str:
    """The first 'colr' box in words: 'nclx 1 1 1 full 0'; '' if there is none."""
    with path.open("rb") as file:
        for begin, end in _found(file, b"colr", 0, path.stat().st_size):
            file.seek(begin)
            data = file.read(end - begin)
            numbers = [int.from_bytes(data[at : at + 2], "big") for at in (4, 6, 8)]
            full = f" full {data[10] >> 7}" if data[:4] == b"nclx" else ""
            return f"{data[:4].decode('latin-1')} {numbers[0]} {numbers[1]} {numbers[2]}{full}"
    return ""


def _boxes(file: BinaryIO, begin: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Type, start and end of the content of each box between two places."""
    while begin + 8 <= end:
        file.seek(begin)
        head = file.read(16)
        size, kind, inner = int.from_bytes(head[:4], "big"), head[4:8], begin + 8
        if size == 1:  # too large for four bytes: eight follow
            size, inner = int.from_bytes(head[8:16], "big"), begin + 16
        if size == 0:
            size = end - begin
        if size < inner - begin:
            return
        yield kind, inner, min(begin + size, end)
        begin += size


def _found(file: BinaryIO, wanted: bytes, begin: int, end: int) -> Iterator[tuple[int, int]]:
    for kind, inner, close in _boxes(file, begin, end):
        if kind == wanted:
            yield inner, close
        elif kind in _HOLDERS:
            yield from _found(file, wanted, inner + _HOLDERS[kind], close)
