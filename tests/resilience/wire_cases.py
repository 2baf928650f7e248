"""What is sent over a raw connection: requests that are none, lie, flood, or stop half-way."""

import json
from typing import Final

BODY: Final = json.dumps({"product": "feed_20_20_20", "water": "rain", "volume_l": 10}).encode()
HOST: Final = b"Host: velamen\r\n"
JSON: Final = b"Content-Type: application/json\r\n"
GET: Final = b"GET /livez HTTP/1.1\r\n" + HOST + b"\r\n"


def get(line: bytes, *headers: bytes) -> bytes:
    """Return a request without a body."""
    return line + b"\r\n" + HOST + b"".join(each + b"\r\n" for each in headers) + b"\r\n"


def post(body: bytes, *headers: bytes, path: bytes = b"/v1/doses") -> bytes:
    """Return a request with a body and only these headers about it."""
    head = b"POST " + path + b" HTTP/1.1\r\n" + HOST + JSON
    return head + b"".join(each + b"\r\n" for each in headers) + b"\r\n" + body


def sized(body: bytes = BODY, path: bytes = b"/v1/doses") -> bytes:
    """Return a request whose length is right."""
    return post(body, b"Content-Length: %d" % len(body), path=path)


def chunked(*pieces: bytes) -> bytes:
    """Return a request whose body is these bytes, chunked or not."""
    return post(b"".join(pieces), b"Transfer-Encoding: chunked")


CHUNK: Final = b"%x\r\n%s\r\n" % (len(BODY), BODY)

LINES: Final = {
    "nothing but blank lines": b"\r\n" * 200,
    "a word": b"GET\r\n\r\n",
    "HTTP/0.9": b"GET /livez\r\n\r\n",
    "HTTP/1.0": b"GET /livez HTTP/1.0\r\n\r\n",
    "HTTP/9.9": b"GET /livez HTTP/9.9\r\n" + HOST + b"\r\n",
    "HTTP/2 without asking": b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    "a version that is none": b"GET /livez HTTQ/1.1\r\n\r\n",
    "a small method": get(b"get /livez HTTP/1.1"),
    "a long method": get(b"A" * 5_000 + b" /livez HTTP/1.1"),
    "a method with NUL": get(b"GE\x00T /livez HTTP/1.1"),
    "a method with spaces": get(b"GET  /livez  HTTP/1.1"),
    "TRACE": get(b"TRACE /livez HTTP/1.1"),
    "CONNECT": get(b"CONNECT velamen:443 HTTP/1.1"),
    "BREW": get(b"BREW /v1/doses HTTP/1.1"),
    "PROPFIND": get(b"PROPFIND / HTTP/1.1"),
    "DELETE": get(b"DELETE /v1/doses HTTP/1.1"),
    "PATCH": get(b"PATCH /v1/doses/batch HTTP/1.1"),
    "QUERY": get(b"QUERY /v1/doses HTTP/1.1"),
    "HEAD": get(b"HEAD /livez HTTP/1.1"),
    "OPTIONS of everything": get(b"OPTIONS * HTTP/1.1"),
    "an absolute address": get(b"GET http://elsewhere/livez HTTP/1.1"),
    "an address without a slash": get(b"GET livez HTTP/1.1"),
    "an endless address": get(b"GET /" + b"a" * 100_000 + b" HTTP/1.1"),
    "an endless query": get(b"GET /v1/doses?" + b"a=1&" * 12_000 + b" HTTP/1.1"),
    "many parameters": get(b"GET /v1/doses?" + b"&".join([b"x%d=1"] * 3_000) + b" HTTP/1.1"),
    "broken escapes": get(b"GET /v1/products/%zz%%%00%c3%28 HTTP/1.1"),
    "an escape of NUL": get(b"GET /v1/products/%00 HTTP/1.1"),
    "raw bytes in the address": get(b"GET /v1/products/\xff\xfe HTTP/1.1"),
    "raw UTF-8 in the address": get("GET /v1/products/é HTTP/1.1".encode()),
    "a way up": get(b"GET /../../../../etc/passwd HTTP/1.1"),
    "a hidden way up": get(b"GET /docs/..%2f..%2f..%2fetc%2fpasswd HTTP/1.1"),
    "a fragment": get(b"GET /livez#here HTTP/1.1"),
    "a surrogate in a query": get(b"GET /v1/doses?product=%ed%a0%80 HTTP/1.1"),
    "TLS": bytes.fromhex("16030100c8010000c40303") + b"\x5a" * 200,
    "SSH": b"SSH-2.0-OpenSSH_9.0\r\n",
    "SMTP": b"EHLO velamen\r\nMAIL FROM:<a@b>\r\n",
    "bytes": bytes(range(256)) * 40,
    "NULs": b"\x00" * 10_000,
}

HEADERS: Final = {
    "no host": b"GET /livez HTTP/1.1\r\n\r\n",
    "two hosts": get(b"GET /livez HTTP/1.1", b"Host: other"),
    "an empty host": b"GET /livez HTTP/1.1\r\nHost:\r\n\r\n",
    "no colon": get(b"GET /livez HTTP/1.1", b"nonsense"),
    "no name": get(b"GET /livez HTTP/1.1", b": value"),
    "a space before the colon": get(b"GET /livez HTTP/1.1", b"X-A : 1"),
    "a folded header": get(b"GET /livez HTTP/1.1", b"X-A: 1\r\n 2\r\n\t3"),
    "NUL in a value": get(b"GET /livez HTTP/1.1", b"X-A: a\x00b"),
    "bytes in a value": get(b"GET /livez HTTP/1.1", b"X-A: \xff\xfe\x80"),
    "bytes in a request id": get(b"GET /livez HTTP/1.1", b"X-Request-ID: \xff\xfe\x80"),
    "a long request id": get(b"GET /livez HTTP/1.1", b"X-Request-ID: " + b"x" * 5_000),
    "a broken trace": get(b"GET /livez HTTP/1.1", b"traceparent: 00-zz-\xff-01"),
    "many headers": get(b"GET /livez HTTP/1.1", *[b"X-%d: 1" % n for n in range(10_000)]),
    "a header without end": b"GET /livez HTTP/1.1\r\nX-A: " + b"a" * 300_000,
    "one header a thousand times": get(b"GET /livez HTTP/1.1", *[b"Accept: text/html"] * 1_000),
    "bare line feeds": b"GET /livez HTTP/1.1\nHost: velamen\n\n",
    "bare carriage returns": b"GET /livez HTTP/1.1\rHost: velamen\r\r",
    "accepts nonsense": get(b"GET /v1/products HTTP/1.1", b"Accept: ;;;q=,/*,*/,\xff"),
    "accepts very much": get(b"GET /v1/products HTTP/1.1", b"Accept: " + b"a/b;q=0.1," * 5_000),
    "encodings of nonsense": get(b"GET /v1/products HTTP/1.1", b"Accept-Encoding: gzip;q=x,*;q=-1"),
    "a range": get(b"GET /v1/products HTTP/1.1", b"Range: bytes=0-0,5-,-3"),
    "many tags": get(b"GET /v1/products HTTP/1.1", b"If-None-Match: " + b'"a",' * 9_000),
    "a date that is none": get(b"GET /v1/products HTTP/1.1", b"If-Modified-Since: yesterday"),
    "a key that is none": get(b"GET /livez HTTP/1.1", b"Authorization: Bearer \xff\x00"),
    "a websocket": get(
        b"GET /livez HTTP/1.1",
        b"Upgrade: websocket",
        b"Connection: Upgrade",
        b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
        b"Sec-WebSocket-Version: 13",
    ),
    "an upgrade to HTTP/2": get(
        b"GET /livez HTTP/1.1",
        b"Upgrade: h2c",
        b"Connection: Upgrade, HTTP2-Settings",
        b"HTTP2-Settings: AAMAAABkAARAAAAAAAIAAAAA",
    ),
    "both kinds of connection": get(b"GET /livez HTTP/1.1", b"Connection: keep-alive, close"),
}

LENGTHS: Final = {
    name: post(BODY, b"Content-Length: " + text)
    for name, text in {
        "a negative length": b"-5",
        "a length with a sign": b"+5",
        "two lengths in one": b"5, 5",
        "two lengths that differ": b"5, 6",
        "a length in the other notation": b"1e2",
        "a hexadecimal length": b"0x10",
        "an endless length": b"9" * 40,
        "a length beyond 64 bits": b"18446744073709551617",
        "a length of words": b"many",
        "an empty length": b"",
        "a length of nothing": b"0",
        "a length that is too small": b"10",
        "a length that is too large": b"%d" % (len(BODY) + 50),
        "a length above the limit": b"1000000000",
        "a length somewhat above the limit": b"300000",
    }.items()
} | {
    "two length headers": post(BODY, b"Content-Length: 5", b"Content-Length: 6"),
    "no length": post(BODY),
    "a length and chunks": post(
        CHUNK + b"0\r\n\r\n", b"Content-Length: 5", b"Transfer-Encoding: chunked"
    ),
    "chunks and a length": post(
        CHUNK + b"0\r\n\r\n", b"Transfer-Encoding: chunked", b"Content-Length: 5"
    ),
    "a body on GET": get(b"GET /livez HTTP/1.1", b"Content-Length: 5") + b"hello",
    "a body that is promised": post(b"", b"Content-Length: 9", b"Expect: 100-continue"),
    "an expectation of more": post(BODY, b"Content-Length: %d" % len(BODY), b"Expect: a miracle"),
}

CHUNKS: Final = {
    "right chunks": chunked(CHUNK, b"0\r\n\r\n"),
    "a chunk a byte": chunked(
        b"".join(b"1\r\n" + BODY[n : n + 1] + b"\r\n" for n in range(len(BODY))), b"0\r\n\r\n"
    ),
    "a size that is none": chunked(b"xyz\r\n", BODY, b"\r\n0\r\n\r\n"),
    "an endless size": chunked(b"F" * 30 + b"\r\n", BODY),
    "a negative size": chunked(b"-5\r\n", BODY, b"\r\n0\r\n\r\n"),
    "a size that is too small": chunked(b"5\r\n", BODY, b"\r\n0\r\n\r\n"),
    "a size that is too large": chunked(b"FFFF\r\n", BODY, b"\r\n0\r\n\r\n"),
    "no line end after a chunk": chunked(b"%x\r\n%s" % (len(BODY), BODY), b"0\r\n\r\n"),
    "no last chunk": chunked(CHUNK),
    "an extension without end": chunked(b"5;" + b"a" * 200_000 + b"\r\nhello\r\n0\r\n\r\n"),
    "many trailers": chunked(CHUNK, b"0\r\n", b"X-A: 1\r\n" * 20_000, b"\r\n"),
    "a trailer without end": chunked(CHUNK, b"0\r\nX-A: ", b"a" * 300_000),
    "compressed chunks": post(CHUNK, b"Transfer-Encoding: gzip, chunked"),
    "a coding that is none": post(BODY, b"Transfer-Encoding: xchunked"),
    "a coding with a blank": post(CHUNK + b"0\r\n\r\n", b"Transfer-Encoding: \x0bchunked"),
    "chunked twice": post(CHUNK + b"0\r\n\r\n", b"Transfer-Encoding: chunked, chunked"),
}

BODIES: Final = {
    "a compressed body that is none": post(
        BODY, b"Content-Length: %d" % len(BODY), b"Content-Encoding: gzip"
    ),
    "two types of content": post(
        BODY, b"Content-Length: %d" % len(BODY), b"Content-Type: text/csv"
    ),
    "a type of bytes": b"POST /v1/doses HTTP/1.1\r\n"
    + HOST
    + b"Content-Type: \xff/\xfe; charset=\x80\r\nContent-Length: 2\r\n\r\n{}",
    "a charset that is none": b"POST /v1/doses/batch HTTP/1.1\r\n"
    + HOST
    + b"Content-Type: text/csv; charset=klingon\r\nContent-Length: 2\r\n\r\na\n",
    "UTF-16": sized(b"\xff\xfe" + BODY.decode().encode("utf-16-le")),
    "deep JSON": sized(b"[" * 100_000),
    "a deep batch": sized(b'{"rows":' + b"[" * 100_000, path=b"/v1/doses/batch"),
    "a number without end": sized(b'{"volume_l":' + b"1" * 200_000 + b"}"),
    "a string without end": sized(b'{"product":"' + b"a" * 200_000),
    "a key a thousand times": sized(b"{" + b'"a":1,' * 1_000 + b'"a":1}'),
    "no body": sized(b""),
    "NULs for a body": sized(b"\x00" * 1_000),
    "NULs for a workbook": b"POST /v1/doses/batch HTTP/1.1\r\n"
    + HOST
    + b"Content-Type: application/vnd.openxmlformats-officedocument.spreadsheetml.sheet\r\n"
    + b"Content-Length: 1000\r\n\r\n"
    + b"PK\x03\x04"
    + b"\x00" * 996,
}

PIPELINES: Final = {
    "a hundred at once": GET * 100,
    "fifty doses at once": sized() * 50,
    "a dose, then nonsense": sized() + b"\xff\xfe nonsense\r\n\r\n",
    "a batch behind a dose": sized() + sized(b'{"rows":[]}', path=b"/v1/doses/batch"),
    "a thousand that are refused": sized(b"{") * 1_000,
    "a request in the body of another": post(GET, b"Content-Length: 0"),
}

WHOLE: Final[dict[str, bytes]] = {**LINES, **HEADERS, **LENGTHS, **CHUNKS, **BODIES, **PIPELINES}
"""Sent at once."""

TEMPLATES: Final = (
    GET,
    sized(),
    chunked(CHUNK, b"0\r\n\r\n"),
    sized(b'{"rows":[' + BODY + b"]}", path=b"/v1/doses/batch"),
    get(b"GET /v1/doses.txt?product=urea&volume_l=5&field=product_mass_g HTTP/1.1"),
    b"POST /v1/doses/batch HTTP/1.1\r\n"
    + HOST
    + b"Content-Type: text/csv\r\nContent-Length: 38\r\n\r\n"
    + b"product,water,volume_l\r\nurea,rain,5\r\n\r\n",
)
"""Right requests, to be damaged."""
