"""Reads a mail with a second parser, checks what must hold of any letter, and prints what the test compares."""
import email, email.policy, hashlib, html.parser, re, sys, unicodedata

raw = open(sys.argv[1], "rb").read()
assert not re.search(rb"(?<!\r)\n", raw), "a bare LF"
assert not re.search(rb"\r(?!\n)", raw), "a bare CR"
assert max(map(len, raw.split(b"\r\n"))) <= 998, "a line over 998 octets (RFC 5322, 2.1.1)"
mail = email.message_from_bytes(raw, policy=email.policy.default)
assert not mail.defects, mail.defects
parts = list(mail.walk())
for part in parts:
    assert not part.defects, part.defects
    for value in part.values():
        assert not getattr(value, "defects", ()), value.defects
head = raw.split(b"\r\n\r\n")[0]
assert all(byte < 128 for byte in head)
print("headers", [name for name, _ in mail.items()])
print("subject", mail["Subject"])
print("from", mail["From"], "to", mail["To"])
print("date", mail["Date"], "id", mail["Message-ID"], mail["Auto-Submitted"], mail["List-Id"])
print("parts", [part.get_content_type() for part in parts if not part.get_content_type().startswith("image/")])
images = [part for part in parts if part.get_content_maintype() == "image"]
for part in parts:
    allowed = {"Content-Type", "Content-Transfer-Encoding"}
    if part.get_content_maintype() == "image":
        allowed |= {"Content-ID", "Content-Disposition"}
        assert re.fullmatch(r"(held|mended)-\d+\.(jpg|png)", part.get_filename()), part.get_filename()
        assert part.get_content_disposition() == "inline"
    assert part is mail or set(part.keys()) <= allowed, part.keys()
related = [part for part in parts if part.get_content_type() == "multipart/related"]
assert all(part["Content-Type"].params["type"] == "text/html" for part in related)

class Reader(html.parser.HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags, self.images, self.blocks, self.style = set(), [], [""], False
    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        assert tag != "meta" or {name for name, _ in attributes} <= {"charset", "name", "content", "http-equiv"}
        for name, value in attributes:
            # Only the words for those who cannot see a picture hold names; nothing else can lead anywhere.
            remote = re.search(r"https?:|//|url\(|javascript:", value or "")
            assert not remote or (tag, name) == ("img", "alt"), (tag, name, value)
            assert not name.startswith("on") and name not in ("href", "srcset", "action", "style", "id"), (tag, name)
            if name == "src":
                assert tag == "img"
                self.images.append(value)
        self.style = tag in ("style", "title")
        if tag in ("p", "h1", "h2", "h3", "li", "div"):
            self.blocks.append("")
    def handle_endtag(self, tag):
        self.style = False
    def handle_data(self, data):
        if not self.style:
            self.blocks[-1] += data

page = mail.get_body(("html",)).get_content()
text = mail.get_body(("plain",)).get_content()
reader = Reader()
reader.feed(page)
allowed = {"html", "head", "meta", "title", "style", "body", "div", "p", "h1", "h2", "h3", "b", "bdi", "ul", "li", "img", "span"}
assert reader.tags <= allowed, reader.tags - allowed
held = {part["Content-ID"].strip("<>"): part for part in images}
assert ["cid:" + name for name in held] == reader.images, (list(held), reader.images)
style = page[page.index("<style>"):page.index("</style>")]
assert not re.search(r"https?:|//|url\(|@import|expression", style), "a remote address in the style"
one = lambda words: " ".join(words.split())
whole = one(text)
for block in map(one, reader.blocks):
    assert block in whole, ("the text part lacks", block)
for character in page + text:
    assert character in "\n\r" or unicodedata.category(character) not in ("Cc",), hex(ord(character))
    assert ord(character) not in [0x061C, 0x200E, 0x200F, *range(0x2028, 0x202F), *range(0x2066, 0x206A), 0xFEFF]
print("images", [(part.get_content_type(), hashlib.sha256(part.get_content()).hexdigest()) for part in images])
print("sizes", len(page.encode()) < 100_000, len(raw) < 5_000_000)
