#!/bin/sh
# Makes an authority of your own and a certificate for the broker.
#
#   make-certificates.sh FOLDER NAME...
#
# FOLDER takes the files; each NAME is a host name or address by which agents
# and hub reach the broker. Run again, it keeps the authority and makes the
# broker's certificate anew. recoat-ca.pem goes to every machine (broker.ca_file);
# recoat-ca.key signs: keep it off the network.
set -eu

[ $# -ge 2 ] || { echo "usage: $0 FOLDER NAME..." >&2; exit 2; }
folder=$1
shift
umask 077
mkdir -p "$folder"
cd "$folder"

if [ ! -e recoat-ca.key ]; then
	openssl req -x509 -new -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes \
		-days 7300 -subj "/CN=recoat authority of this shop" \
		-addext "basicConstraints=critical,CA:TRUE" -addext "keyUsage=critical,keyCertSign,cRLSign" \
		-keyout recoat-ca.key -out recoat-ca.pem 2>/dev/null
fi

names=
for name in "$@"; do
	case "$name" in
	*[!0-9.]*) kind=DNS ;;
	*) kind=IP ;;
	esac
	case "$name" in *:*) kind=IP ;; esac
	names="$names${names:+,}$kind:$name"
done
extensions=$(mktemp)
trap 'rm -f "$extensions" recoat-broker.csr' EXIT
printf 'subjectAltName=%s\nbasicConstraints=critical,CA:FALSE\nextendedKeyUsage=serverAuth\n' "$names" >"$extensions"
openssl req -new -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes \
	-subj "/CN=recoat broker" -keyout recoat-broker.key -out recoat-broker.csr 2>/dev/null
openssl x509 -req -in recoat-broker.csr -CA recoat-ca.pem -CAkey recoat-ca.key -CAcreateserial \
	-days 3650 -extfile "$extensions" -out recoat-broker.pem 2>/dev/null
chmod 644 recoat-ca.pem recoat-broker.pem
echo "made in $folder: recoat-ca.pem recoat-ca.key recoat-broker.pem recoat-broker.key"
