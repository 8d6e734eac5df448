// Package webpush sends messages to browsers' push services: RFC 8030 for the
// post, RFC 8291 for the encryption, RFC 8292 for who is sending.
package webpush

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/hkdf"
	"crypto/sha256"
	"encoding/binary"
	"fmt"

	"recoat/internal/alert"
)

const (
	saltSize   = 16
	keySize    = 16
	secretSize = 32
	pointSize  = 65   // of an uncompressed point of P-256
	recordSize = 4096 // in the header; RFC 8291, section 4, allows one record
	headerSize = saltSize + 4 + 1 + pointSize
	tagSize    = 16
	lastRecord = 0x02 // the padding delimiter of RFC 8188, section 2
	maxPlain   = recordSize - headerSize - 1 - tagSize
)

// seal encrypts plain for one browser. The sender's key and the salt are used
// for one message alone.
func seal(plain []byte, to alert.PushSubscription, sender *ecdh.PrivateKey, salt []byte) ([]byte, error) {
	if len(plain) > maxPlain {
		return nil, fmt.Errorf("encrypt: %d bytes are too many, at most %d fit", len(plain), maxPlain)
	}
	aead, nonce, err := keysFor(to, sender, salt)
	if err != nil {
		return nil, fmt.Errorf("encrypt: %w", err)
	}
	body := make([]byte, 0, recordSize)
	body = append(body, salt...)
	body = binary.BigEndian.AppendUint32(body, recordSize)
	body = append(body, pointSize)
	body = append(body, sender.PublicKey().Bytes()...)
	return aead.Seal(body, nonce, append(plain[:len(plain):len(plain)], lastRecord), nil), nil
}

// keysFor derives the content key and nonce (RFC 8291, section 3.4).
func keysFor(to alert.PushSubscription, sender *ecdh.PrivateKey, salt []byte) (cipher.AEAD, []byte, error) {
	receiver, err := ecdh.P256().NewPublicKey(to.Key)
	if err != nil {
		return nil, nil, fmt.Errorf("the browser's key: %w", err)
	}
	shared, err := sender.ECDH(receiver)
	if err != nil {
		return nil, nil, fmt.Errorf("the browser's key: %w", err)
	}
	info := "WebPush: info\x00" + string(receiver.Bytes()) + string(sender.PublicKey().Bytes())
	secret, err := hkdf.Key(sha256.New, shared, to.Auth, info, secretSize)
	if err != nil {
		return nil, nil, err
	}
	key, err := hkdf.Key(sha256.New, secret, salt, "Content-Encoding: aes128gcm\x00", keySize)
	if err != nil {
		return nil, nil, err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, nil, err
	}
	aead, err := cipher.NewGCM(block)
	if err != nil {
		return nil, nil, err
	}
	nonce, err := hkdf.Key(sha256.New, secret, salt, "Content-Encoding: nonce\x00", aead.NonceSize())
	return aead, nonce, err
}
