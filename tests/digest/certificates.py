"""Throw-away certificates in a folder: a root (ca.pem), and NAME.pem with NAME.key for good, wrong-name, expired, not-yet
(all signed by the root) and self-signed."""
import datetime, os, sys
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

folder = sys.argv[1]
now = datetime.datetime.now(datetime.timezone.utc)
day = datetime.timedelta(days=1)


def named(text):
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])


def write(name, certificate, key):
    with open(os.path.join(folder, name + ".pem"), "wb") as file:
        file.write(certificate.public_bytes(serialization.Encoding.PEM))
    with open(os.path.join(folder, name + ".key"), "wb") as file:
        file.write(key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()))


def make(subject, host, begin, end, issuer=None):
    key = ec.generate_private_key(ec.SECP256R1())
    builder = x509.CertificateBuilder().subject_name(named(subject)).public_key(key.public_key())
    builder = builder.serial_number(x509.random_serial_number()).not_valid_before(begin).not_valid_after(end)
    builder = builder.issuer_name(issuer[0].subject if issuer else named(subject))
    if host:
        builder = builder.add_extension(x509.SubjectAlternativeName([x509.DNSName(host)]), False)
        builder = builder.add_extension(x509.BasicConstraints(False, None), True)
        builder = builder.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
    else:
        builder = builder.add_extension(x509.BasicConstraints(True, 0), True)
    return builder.sign(issuer[1] if issuer else key, hashes.SHA256()), key


root = make("Oddfathom throw-away root", None, now - 9 * day, now + 9 * day)
write("ca", *root)
write("good", *make("good", "localhost", now - day, now + day, root))
write("wrong-name", *make("wrong name", "mail.elsewhere.example", now - day, now + day, root))
write("expired", *make("expired", "localhost", now - 3 * day, now - 2 * day, root))
write("not-yet", *make("not yet", "localhost", now + 2 * day, now + 3 * day, root))
write("self-signed", *make("self-signed", "localhost", now - day, now + day))
