package store

import (
	"cmp"
	"errors"
	"net/url"

	"github.com/minio/minio-go/v7/pkg/credentials"
)

// Access is how another program reaches the same buckets. Its keys belong into no message.
type Access struct {
	Endpoint          string // http://host:port or https://host, without a slash at its end.
	ID, Secret, Token string
}

// Reach reads it from the settings that env names.
func Reach(env func(string) string) (Access, error) {
	u, _, err := endpointOf(env)
	if err != nil {
		return Access{}, err
	}
	keys, err := keysOf(env)
	if err != nil {
		return Access{}, err
	}
	v, err := keys.GetWithContext(nil)
	if err != nil {
		return Access{}, errors.New("read the store's keys: they cannot be had")
	}
	return Access{u.Scheme + "://" + u.Host, v.AccessKeyID, v.SecretAccessKey, v.SessionToken}, nil
}

func regionOf(env func(string) string) string {
	return cmp.Or(env("AWS_REGION"), env("AWS_DEFAULT_REGION"), "us-east-1")
}

// endpointOf finds the store's address, and whether it was given.
func endpointOf(env func(string) string) (u *url.URL, given bool, err error) {
	endpoint := cmp.Or(env("AWS_ENDPOINT_URL_S3"), env("AWS_ENDPOINT_URL"))
	if endpoint == "" {
		return &url.URL{Scheme: "https", Host: "s3." + regionOf(env) + ".amazonaws.com"}, false, nil
	}
	if u, err = url.Parse(endpoint); err != nil || u.Host == "" || u.User != nil || u.Scheme != "http" && u.Scheme != "https" {
		return nil, true, errors.New("read AWS_ENDPOINT_URL: want http://host:port or https://host, without keys")
	}
	return u, true, nil
}

// keysOf finds the keys: in the environment, else in the file that it names.
func keysOf(env func(string) string) (*credentials.Credentials, error) {
	id, secret := env("AWS_ACCESS_KEY_ID"), env("AWS_SECRET_ACCESS_KEY")
	if id != "" && secret != "" {
		return credentials.NewStaticV4(id, secret, env("AWS_SESSION_TOKEN")), nil
	}
	if id != "" || secret != "" {
		return nil, errors.New("read the store's keys: set both AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY")
	}
	if file := env("AWS_SHARED_CREDENTIALS_FILE"); file != "" {
		keys := credentials.NewFileAWSCredentials(file, cmp.Or(env("AWS_PROFILE"), "default"))
		if v, err := keys.GetWithContext(nil); err != nil || v.AccessKeyID == "" || v.SecretAccessKey == "" {
			return nil, errors.New("read the store's keys: the file that AWS_SHARED_CREDENTIALS_FILE names has none under the profile of AWS_PROFILE (default)")
		}
		return keys, nil
	}
	return nil, errors.New("read the store's keys: set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, or name a file of them by AWS_SHARED_CREDENTIALS_FILE")
}
