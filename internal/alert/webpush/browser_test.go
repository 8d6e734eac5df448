package webpush

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"strings"
	"testing"

	"recoat/internal/alert"
)

// browser is the receiving end: it opens what was sealed for it.
type browser struct {
	key          *ecdh.PrivateKey
	subscription alert.PushSubscription
}

func newBrowser(t *testing.T) *browser {
	key := must[*ecdh.PrivateKey](t)(ecdh.P256().GenerateKey(rand.Reader))
	auth := make([]byte, authSize)
	rand.Read(auth)
	return &browser{key: key, subscription: alert.PushSubscription{Key: key.PublicKey().Bytes(), Auth: auth}}
}

// open reads the header of RFC 8188, section 2.1, and derives the keys from the
// browser's side.
func (b *browser) open(body []byte) ([]byte, error) {
	if len(body) < headerSize || binary.BigEndian.Uint32(body[16:20]) != 4096 || body[20] != 65 {
		return nil, errors.New("no header")
	}
	sender, err := ecdh.P256().NewPublicKey(body[21:86])
	if err != nil {
		return nil, err
	}
	shared, err := b.key.ECDH(sender)
	if err != nil {
		return nil, err
	}
	extract := func(salt, secret []byte) []byte { return mac(salt, secret) }
	expand := func(secret []byte, info string, n int) []byte { return mac(secret, []byte(info+"\x01"))[:n] }
	secret := expand(extract(b.subscription.Auth, shared), "WebPush: info\x00"+string(b.subscription.Key)+string(body[21:86]), 32)
	prk := extract(body[:16], secret)
	plain, err := openGCM(expand(prk, "Content-Encoding: aes128gcm\x00", 16), expand(prk, "Content-Encoding: nonce\x00", 12), body[86:])
	if err != nil {
		return nil, err
	}
	plain = []byte(strings.TrimRight(string(plain), "\x00"))
	if len(plain) == 0 || plain[len(plain)-1] != 2 {
		return nil, errors.New("no delimiter")
	}
	return plain[:len(plain)-1], nil
}

// mac is HMAC-SHA-256, of which one round is all that HKDF (RFC 5869) needs for
// up to 32 bytes.
func mac(key, text []byte) []byte {
	h := hmac.New(sha256.New, key)
	h.Write(text)
	return h.Sum(nil)
}

func openGCM(key, nonce, sealed []byte) ([]byte, error) {
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	aead, err := cipher.NewGCM(block)
	if err != nil {
		return nil, err
	}
	return aead.Open(nil, nonce, sealed, nil)
}
